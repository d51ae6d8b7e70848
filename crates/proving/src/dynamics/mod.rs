//! The equations of motion: crush force, phases, integration and the truth that comes out.

mod crush;
mod integrate;
mod phase;
mod state;
mod truth;

pub use integrate::simulate;
pub use truth::{BodyInstant, Instant, Truth};
