//! Starts that are not on a target: what is said of them, with the frame and what to do.

use crate::locate::LocateFailure;
use crate::texture::TextureFailure;
use filmgauge_quantities::{FrameNumber, TargetId};

/// Why a start cannot be used, and what a person can do about it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Refused {
    why: String,
    remedy: &'static str,
}

const PLACE_IT: &str = "place it within 2 px of the target's centre and check its kind and radius";
const SHOW_IT_WHOLE: &str = "start in a frame that shows it whole and clear of the edge, or check its radius";
const ANOTHER_FRAME: &str = "start in another frame";

impl Refused {
    /// What is there is not the target.
    pub(super) fn not_there(why: impl Into<String>) -> Self {
        Self { why: why.into(), remedy: PLACE_IT }
    }

    /// Nothing can be seen in the frame.
    pub(super) fn unseen(why: impl Into<String>) -> Self {
        Self { why: why.into(), remedy: ANOTHER_FRAME }
    }

    /// Another start has the target already.
    pub(super) fn taken(by: &TargetId) -> Self {
        Self { why: format!("it is on the same target as {by}"), remedy: "take one of the two out" }
    }

    /// The words that stand in every frame of a target that was never found.
    pub(super) fn words(&self, frame: FrameNumber) -> String {
        format!("start is not on a target of its own: in frame {frame}, {}; {}", self.why, self.remedy)
    }
}

impl From<LocateFailure> for Refused {
    fn from(failure: LocateFailure) -> Self {
        let remedy = match failure {
            LocateFailure::OutOfView => SHOW_IT_WHOLE,
            LocateFailure::Saturated { .. } => ANOTHER_FRAME,
            _ => PLACE_IT,
        };
        Self { why: failure.to_string(), remedy }
    }
}

impl From<TextureFailure> for Refused {
    fn from(failure: TextureFailure) -> Self {
        let remedy = match failure {
            TextureFailure::LeftPicture { .. } => SHOW_IT_WHOLE,
            TextureFailure::Masked { .. } => ANOTHER_FRAME,
            _ => "move the patch, or make it larger",
        };
        Self { why: failure.to_string(), remedy }
    }
}
