//! A finding: a named result with unit, standard uncertainty, method, evidence and error budget.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Where a finding comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum FindingSource {
    /// Measured from film.
    Film,
    /// Measured by a sensor.
    Sensor,
    /// From both.
    Fused,
    /// Measured by hand on the vehicle.
    Hand,
}

impl FindingSource {
    /// The word used in files and on screen.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Film => "film",
            Self::Sensor => "sensor",
            Self::Fused => "fused",
            Self::Hand => "hand",
        }
    }
}

/// Frames and settings that a finding rests on.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct Evidence {
    /// Camera, for a finding from film.
    pub camera: Option<String>,
    /// First and last frame used.
    pub frames: Option<[u32; 2]>,
    /// Settings that a repeat needs, in words.
    pub settings: String,
}

/// One line of an error budget.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Contribution {
    /// What the doubt is about, such as "marks", "board length", "plane offset of car".
    pub source: String,
    /// Its share of the standard uncertainty, in the finding's unit; shares add in quadrature.
    pub u: f64,
}

/// A named result. A finding that could not be made has no value and a reason.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Finding {
    /// Name, such as `contact_speed`; the list is in `docs/formats.md`.
    pub name: String,
    /// What it is about: a body, a crush line or a channel.
    pub subject: String,
    /// Film, sensor or both.
    pub source: FindingSource,
    /// The value in `unit`; null when it could not be made.
    pub value: Option<f64>,
    /// SI unit, degrees for angles.
    pub unit: String,
    /// One standard uncertainty, in `unit`.
    pub uncertainty: Option<f64>,
    /// How it was made.
    pub method: String,
    /// What it rests on.
    pub evidence: Evidence,
    /// Contributions to the uncertainty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub budget: Vec<Contribution>,
    /// What the reader must know before using it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caution: Option<String>,
    /// Why there is no value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// There is no value because the test holds no such thing, such as the parting of bodies that stay together: nobody
    /// need act.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub absent: bool,
}
