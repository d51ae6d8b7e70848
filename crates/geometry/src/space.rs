//! Several cameras: points in space, tracks with each camera's time offset, rigid bodies, and both sides' mean. Method and known
//! failures: `docs/methods/geometry.md`.

mod band;
mod body;
mod bundle;
mod centre_plane;
mod curve;
mod normals;
mod start;
#[cfg(test)]
mod tests;
mod triangulate;

pub use body::{BodyMark, SpaceAngles, SpacePose, space_pose, space_pose_from_marks};
pub use bundle::{Bundle, BundleOptions, CameraMark, SpaceTrack, TrackPoint, bundle};
pub use centre_plane::{CentrePlane, SideMark, centre_plane};
pub use triangulate::{Sighting, SpaceFix, TriangulateOptions, epipolar_px, triangulate};

/// Why nothing in space was found. A value with a reason, not a fault of the program.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SpaceFailure {
    /// One camera gives a direction, no place.
    #[error("a point in space needs the marks of two cameras or more; {n} sees it")]
    TooFewCameras {
        /// Cameras that see it.
        n: usize,
    },
    /// Lines of sight that run side by side.
    #[error(
        "the lines of sight meet at {angle_deg:.2}° at most, which fixes no depth: {least_deg:.2}° are needed; \
         set the cameras further apart"
    )]
    Parallel {
        /// Widest angle between two of them, degrees.
        angle_deg: f64,
        /// Least that is taken, degrees.
        least_deg: f64,
    },
    /// The point would lie behind a camera.
    #[error("the lines of sight do not meet before the cameras: check poses and marks")]
    Behind,
    /// A mark outside a lens' field.
    #[error("a mark lies outside its lens' field: {0}")]
    Lens(Box<crate::GeometryError>),
    /// The steps did not settle.
    #[error("the fit does not settle: check poses and marks")]
    Unsettled,
    /// Lists that do not go together, or a setting out of its range.
    #[error("{what}; correct that input")]
    Input {
        /// What does not fit.
        what: String,
    },
    /// Too few targets for a pose.
    #[error("a pose in space needs three targets that do not lie on one line; {n} can be used")]
    TooFewTargets {
        /// Targets that can be used.
        n: usize,
    },
    /// Nothing tells the time offset.
    #[error(
        "the time offset of camera {camera} cannot be told: the points move along its lines of sight as another camera \
         sees them, so that an offset looks like depth; tie the clocks by a flash, or add a camera"
    )]
    Offset {
        /// The camera, counted from 1.
        camera: usize,
    },
    /// Marks that contradict each other.
    #[error(
        "the marks of the cameras contradict each other: residuals are {ratio:.1} times their doubt; check poses, film \
         speeds and which target is which"
    )]
    Contradiction {
        /// Residual over doubt.
        ratio: f64,
    },
}
