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
    /// Standard uncertainty of the mass, kg; it counts where momentum and energy are balanced.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub mass_uncertainty_kg: f64,
    /// Where the c.g. lies; the mean place of the body's targets stands in when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cg_from: Option<CgFrom>,
    /// Where the body's middle lies in an overhead view; the mean place of its targets there stands in when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub middle_from: Option<MiddleFrom>,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference over")]
fn is_zero(value: &f64) -> bool {
    *value == 0.0
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

/// The body's middle as a step from a target seen from above, with the body straight on the path.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MiddleFrom {
    /// Target id.
    pub target: String,
    /// Step from the target to the middle, m: forward and to the left.
    pub m: [f64; 2],
}
