//! The vocabulary of every room: quantities with units, uncertain values, frame numbers and clocks,
//! pixel, plane and space points with covariance, the grey image view, and ids. No I/O, no algorithm.
//!
//! # Conventions
//! * Pixels: (0, 0) is the centre of the top-left stored pixel; x right, y down.
//! * Plane: x along the path towards the struck vehicle, z the second axis of the camera's plane
//!   (up for a side camera, to the left for an overhead camera); metres.
//! * Angles: radians inside, degrees on screen; nose-up pitch and nose-left yaw positive.
//! * Time: integer ticks and a time scale inside, seconds from time zero outside.
//! * Grey levels are kept as stored; nothing is stretched before measuring.

mod clock;
mod grey;
mod ids;
mod pixel;
mod plane;
mod scalar;
mod space;
mod uncertain;
mod words;

pub use clock::{FrameNumber, TickTime, TimeScale};
pub use grey::{GreyImage, GreyPixels, GreyView, LayoutError, Patch};
pub use ids::{BodyId, CameraId, ChannelId, IdError, TargetId};
pub use pixel::{PixelCov, PixelPoint};
pub use plane::{PlaneCov, PlanePoint};
pub use scalar::{Acceleration, Angle, Length, Quantity, STANDARD_GRAVITY_M_S2, Seconds, Speed};
pub use space::{SpaceCov, SpacePoint};
pub use uncertain::{COVERAGE_95, Uncertain};
pub use words::{GapCause, MarkState, TargetKind, ViewPlane};
