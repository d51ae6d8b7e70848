//! What became of one target in one frame: a mark, found, by hand or inferred, or a gap with its cause.

use filmgauge_quantities::{GapCause, MarkState, PixelCov, PixelPoint};
use serde::{Deserialize, Serialize};

/// A target's place in one frame.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mark {
    /// Its centre.
    pub centre: PixelPoint,
    /// Covariance of the centre.
    pub cov: PixelCov,
    /// Located in the picture, placed by hand, or inferred from its body while hidden.
    pub state: MarkState,
    /// 1 when nothing speaks against it, towards 0 as tests come near their limits; an inferred mark has 0.5 at most.
    pub trust: f64,
    /// What speaks against it; empty when nothing does. For an inferred mark: why the target was not seen.
    pub reason: String,
    /// Correlation with the start's picture; `None` where nothing was compared.
    pub zncc: Option<f64>,
    /// Distance between what the way there and the way back over a gap found, px; `None` where only one came by.
    pub ways_apart_px: Option<f64>,
}

/// What became of one target in one frame.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Outcome {
    /// It has a mark.
    Mark(Mark),
    /// It has none.
    Gap {
        /// The cause, from the closed list.
        cause: GapCause,
        /// The test that failed, in words.
        why: String,
    },
}

impl Outcome {
    /// The mark, whatever its state.
    #[must_use]
    pub fn mark(&self) -> Option<&Mark> {
        match self {
            Self::Mark(mark) => Some(mark),
            Self::Gap { .. } => None,
        }
    }

    /// The mark where the picture or a person gave one. Inferred marks follow from the body's other marks: used as data
    /// they would count twice.
    #[must_use]
    pub fn measured(&self) -> Option<&Mark> {
        self.mark().filter(|mark| mark.state != MarkState::Inferred)
    }
}
