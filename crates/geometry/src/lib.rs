//! Pixels to metres: lens, reference board and plane of motion, with covariance.
//!
//! # Conventions
//! * Stored pixels: (0, 0) is the centre of the top-left pixel, x right, y down.
//! * Ideal pixels: where a lens without distortion, of the same focal lengths and principal point, would put the point.
//! * Plane: x along the board from `from` to `to`, z the second axis of the camera's plane, origin at the board's `from`.
//! * Plane offset: positive towards the camera.

mod error;
mod lens;

pub use error::GeometryError;
pub use lens::Lens;
