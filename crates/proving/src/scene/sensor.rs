//! Accelerometer channels and the faults planted in them.

use super::paint::BodyName;
use serde::{Deserialize, Serialize};

/// Direction that a sensor feels, in vehicle axes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SensedAxis {
    /// Forward.
    X,
    /// Up.
    Z,
}

impl SensedAxis {
    /// The word used in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::X => "x",
            Self::Z => "z",
        }
    }
}

/// One accelerometer channel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChannelSetup {
    /// Channel code (16 characters) in an exchange folder, or the column's header in a CSV file.
    pub code: String,
    /// File relative to the dossier: `.mme` for an exchange folder, `.csv` for a table.
    pub file: String,
    /// `m/s2` or `g`.
    pub unit: String,
    /// Body that carries the sensor.
    pub body: BodyName,
    /// Direction that it feels.
    pub axis: SensedAxis,
    /// Place from the c.g.: forward and up, m.
    pub at_m: [f64; 2],
    /// Samples per second.
    #[serde(default = "default_rate")]
    pub samples_per_s: f64,
    /// Standard deviation of its noise, m/s².
    #[serde(default)]
    pub noise_m_s2: f64,
    /// Constant that any real channel carries, m/s².
    #[serde(default)]
    pub offset_m_s2: f64,
    /// Faults planted on purpose.
    #[serde(default)]
    pub faults: Vec<Fault>,
}

fn default_rate() -> f64 {
    10_000.0
}

/// A planted fault.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "fault", rename_all = "lowercase", deny_unknown_fields)]
pub enum Fault {
    /// The reading is multiplied by `factor`.
    Gain {
        /// 1 for a sound sensor.
        factor: f64,
    },
    /// A constant is added.
    Offset {
        /// The constant, m/s².
        m_s2: f64,
    },
    /// The sign is wrong.
    Polarity,
    /// The reading comes late.
    Delay {
        /// By this time, s; negative when it comes early.
        s: f64,
    },
}

impl Fault {
    /// The word used in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Gain { .. } => "gain",
            Self::Offset { .. } => "offset",
            Self::Polarity => "polarity",
            Self::Delay { .. } => "delay",
        }
    }
}
