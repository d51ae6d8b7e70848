//! Closed sets of the trade's words: kinds of target, states of a mark, causes of a gap, camera planes.

use serde::{Deserialize, Serialize};

/// What a target looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum TargetKind {
    /// A disc in four quarters, opposite ones alike.
    Quadrant,
    /// A filled disc.
    Disc,
    /// A ring.
    Ring,
    /// Two crossing bars.
    Cross,
    /// Natural texture.
    Patch,
}

impl TargetKind {
    /// The word used in files and on screen.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Quadrant => "quadrant",
            Self::Disc => "disc",
            Self::Ring => "ring",
            Self::Cross => "cross",
            Self::Patch => "patch",
        }
    }
}

/// How a mark came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum MarkState {
    /// Located in the picture.
    Found,
    /// Placed by a person.
    Hand,
    /// Computed from the body while the target itself was hidden.
    Inferred,
}

impl MarkState {
    /// The word used in files and on screen.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Found => "found",
            Self::Hand => "hand",
            Self::Inferred => "inferred",
        }
    }
}

/// Why a target has no mark in a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum GapCause {
    /// Something stands, or blows, in front of the target.
    Hidden,
    /// The target is outside the picture or too near its edge.
    OutOfView,
    /// The target is smeared beyond use.
    Blurred,
    /// A flash or glare saturates it.
    Flash,
    /// The frame itself is damaged.
    DamagedFrame,
    /// A candidate was seen but failed an acceptance test.
    Rejected,
    /// The frame comes before the target's start.
    BeforeStart,
}

impl GapCause {
    /// The words used in files and on screen.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Hidden => "hidden",
            Self::OutOfView => "out of view",
            Self::Blurred => "blurred",
            Self::Flash => "flash",
            Self::DamagedFrame => "damaged frame",
            Self::Rejected => "rejected",
            Self::BeforeStart => "before start",
        }
    }
}

/// Which plane a camera looks at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ViewPlane {
    /// From the side, at right angles to the path: x along the path, z up; the angle is pitch.
    #[default]
    Side,
    /// From above: x along the path, second axis to the left; the angle is yaw.
    Overhead,
}
