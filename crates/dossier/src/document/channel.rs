//! Channel lines of the dossier.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One sensor channel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChannelEntry {
    /// Exchange folder header (`.mme`) or CSV file, relative to the dossier.
    pub file: String,
    /// Channel code of the exchange folder, or column header of the CSV file.
    pub code: String,
    /// Sensed axis; taken from the channel code when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub axis: Option<AxisEntry>,
    /// Unit, where the file does not say; `g` or `m/s2`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// Body that carries the sensor.
    pub body: String,
    /// Place of the sensor from the c.g., m: forward and up.
    #[serde(default)]
    pub at_m: [f64; 2],
    /// Steps that are not to be applied to this channel.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub without: Vec<StepEntry>,
}

/// A step that can be left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum StepEntry {
    /// The sign is turned into forward, left and up.
    Polarity,
    /// Time zero is moved to the switch.
    Clock,
    /// The zero before contact is taken out.
    Zero,
    /// The class filter.
    Filter,
    /// The acceleration is moved to the c.g.
    Transfer,
}

impl StepEntry {
    /// Every step that can be left out, in the order in which they are applied.
    pub const ALL: [Self; 5] = [Self::Polarity, Self::Clock, Self::Zero, Self::Filter, Self::Transfer];

    /// The word used in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Polarity => "polarity",
            Self::Clock => "clock",
            Self::Zero => "zero",
            Self::Filter => "filter",
            Self::Transfer => "transfer",
        }
    }
}

/// Sensed axis in the dossier's axis system.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum AxisEntry {
    /// Forward.
    X,
    /// Sideways.
    Y,
    /// Upright.
    Z,
}
