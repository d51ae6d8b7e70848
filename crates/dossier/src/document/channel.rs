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
