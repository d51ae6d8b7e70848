//! One frame of footage.

use crate::FramePlace;
use filmgauge_quantities::{FrameNumber, GreyImage, TickTime};

/// One picture with its number and what the container says of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    /// Number in order of presentation, from 0.
    pub number: FrameNumber,
    /// The container's time stamp; `None` when it stores none (stills never do).
    pub stamp: Option<TickTime>,
    /// Whether the picture is coded without reference to others.
    pub key: bool,
    /// Whether the picture is damaged, or predicted from one that is; parts of it may be made up by the decoder.
    pub damaged: bool,
    /// Grey levels as stored.
    pub picture: GreyImage,
    /// Where the frame lies in a film; `None` for stills.
    pub place: Option<FramePlace>,
}
