//! Targets in pictures: finds them in a whole frame, locates their centres to a few thousandths of a
//! pixel, and carries them from frame to frame. Grey view in, marks in pixels with covariance out.
//!
//! Knows nothing of files, time in seconds, lenses or metres.
//!
//! # Conventions
//! * Pixels: (0, 0) is the centre of the top-left stored pixel; x right, y down.
//! * Angles in the picture turn from x towards y (clockwise on the screen), radians.
//! * Grey levels are used as stored; saturated pixels are left out, never stretched or repaired.
//! * A covariance is one standard uncertainty squared, px²; it already contains what the residual says.

mod blemish;
mod chessboard;
mod edge;
mod error;
mod follow;
mod lanes;
mod locate;
#[cfg(test)]
mod painted;
mod rings;
mod spline;
mod spot;
mod texture;

pub use blemish::{BlemishFailure, BlemishMask, BlemishOptions, blemishes};
pub use chessboard::{ChessCorner, Chessboard, ChessboardFailure, ChessboardOptions, find_chessboard};
pub use edge::{
    Corner, CornerArms, EdgeBox, EdgeFailure, EdgeLine, EdgeOptions, EdgePoint, EdgeRun, EdgeStep, EdgeTrace,
    Perforation, TraceFailure, TraceOptions, locate_corner, locate_edge, locate_perforation, trace_edge,
};
pub use error::TargetsError;
pub use follow::{FollowOptions, Follower, HandMark, Mark, Outcome, SetAside, TargetStart};
pub use locate::{
    CirclePose, LocateFailure, LocateOptions, Located, Smear, TargetHint, TargetShape, locate, locate_target,
    target_shape,
};
pub use spot::{CentreBy, Spot, SpotOptions, TextureSpot, TextureSpotOptions, spot, texture_spots};
pub use texture::{
    Interpolation, MatchOptions, PatchShape, PatchSize, RenewOptions, SearchGate, Texture, TextureFailure,
    TextureFound, TextureMatch, TextureOptions, TexturePlace, Warp, match_texture, match_texture_masked,
    search,
};
