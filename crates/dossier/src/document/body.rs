//! Body lines of the dossier.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One rigid body.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BodyEntry {
    /// Body id.
    pub id: String,
    /// Part in the test. When left out: a body with a crush line is striking, one without a mass is ground,
    /// any other is struck.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub role: Option<Role>,
    /// Mass, kg.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_kg: Option<f64>,
    /// Where the c.g. lies; the mean place of the body's targets stands in when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cg_from: Option<CgFrom>,
}

/// A body's part in the test.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// The vehicle that runs up.
    Striking,
    /// The vehicle that is struck.
    Struck,
    /// Does not move: ground, building, camera stand.
    Ground,
}

/// The c.g. as a step from a target, with the body level.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CgFrom {
    /// Target id.
    pub target: String,
    /// Step from the target to the c.g., m: forward and up.
    pub m: [f64; 2],
}
