//! The smoothing spline of degree 7 as a chain of states: model, least-squares estimate, values between nodes.

mod between;
mod estimate;
mod model;

pub(crate) use between::between;
pub(crate) use estimate::{Estimate, estimate};
pub(crate) use model::Node;
