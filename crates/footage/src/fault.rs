//! Faults of footage that do not stop a reading: what, at which frame, in words.

use filmgauge_quantities::FrameNumber;
use serde::{Deserialize, Serialize};

/// What kind of fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FaultKind {
    /// Data that could not be decoded; a frame may be missing.
    LostData,
    /// A picture that is damaged, or predicted from a damaged one.
    DamagedFrame,
    /// A picture equal to the one before it.
    RepeatedPicture,
    /// A time stamp that is not later than the one before it.
    StampOrder,
    /// A step in time that differs from the usual one: frames dropped, or a varying rate.
    UnevenSpacing,
    /// Frames without a time stamp.
    NoStamps,
    /// The header claims another number of frames.
    DeclaredCount,
    /// The header claims a longer film.
    EndsEarly,
    /// Two fields in a picture, exposed at different times.
    Interlaced,
    /// Stored pixels are not square.
    PixelAspect,
    /// The container asks for the picture to be turned for viewing; it is measured as stored.
    Turned,
}

impl FaultKind {
    /// What a person can do about it.
    #[must_use]
    pub fn remedy(self) -> &'static str {
        match self {
            Self::LostData | Self::EndsEarly => {
                "Copy the film from the camera again; what is missing cannot be measured"
            }
            Self::DamagedFrame => "Copy the film from the camera again, or do without these frames",
            Self::RepeatedPicture => {
                "Ask whether the film was converted: repeated pictures shift every later frame in time"
            }
            Self::StampOrder | Self::UnevenSpacing => {
                "Look in the camera's record whether frames were dropped: a frame's time follows from its number"
            }
            Self::NoStamps => "Nothing, when the film speed comes from the camera's record",
            Self::DeclaredCount => "Compare with the camera's own count of frames",
            Self::Interlaced => "Export the film from the camera as whole frames",
            Self::PixelAspect => "Calibrate with a board along the measured axis, or export square pixels",
            Self::Turned => "Give places as in the stored picture, not as a player shows it",
        }
    }
}

/// One fault, with its place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FootageFault {
    /// What kind.
    pub kind: FaultKind,
    /// First frame concerned; `None` when the whole footage is.
    pub frame: Option<FrameNumber>,
    /// How many frames in a row are concerned; 0 when the whole footage is.
    pub n_frames: u32,
    /// What it is, why it matters.
    pub text: String,
}

impl FootageFault {
    pub(crate) fn of_footage(kind: FaultKind, text: String) -> Self {
        Self { kind, frame: None, n_frames: 0, text }
    }

    pub(crate) fn of_frame(kind: FaultKind, frame: FrameNumber, text: String) -> Self {
        Self { kind, frame: Some(frame), n_frames: 1, text }
    }
}
