//! The smoothing spline of degree 5 or 7 as a chain of states: model, least-squares estimate, values between nodes.

mod between;
mod estimate;
mod messages;
mod model;

pub(crate) use between::between;
pub(crate) use estimate::{
    Estimate, Known, estimate, estimate_window, known_at_end, likelihood, likelihood_alone,
};
pub(crate) use messages::{Messages, messages};
pub use model::Degree;
pub(crate) use model::Node;
