//! Crush profile lines of the dossier: six depths across a damaged face.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Six depths C1 to C6 at equal distances across a damaged face, C1 at the driver's left end of a front or rear, or at the
/// rear end of a side.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ProfileEntry {
    /// Name of the profile, such as "front".
    pub id: String,
    /// Body that it belongs to.
    pub body: String,
    /// Damage width, from C1 to C6, m.
    pub width_m: f64,
    /// Its standard uncertainty, m.
    #[serde(default)]
    pub width_uncertainty_m: f64,
    /// The six depths measured by hand after the test, from the undeformed reference line, m.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depths_m: Option<[f64; 6]>,
    /// Instead: six crush lines, whose shortening at the end of the film counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lines: Option<[String; 6]>,
    /// Rows of free space to take off, m; what comes out negative is zero.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub free_space_m: Vec<[f64; 6]>,
    /// Standard uncertainty of each depth measured by hand, m.
    #[serde(default)]
    pub uncertainty_m: f64,
    /// Standard uncertainty of the undeformed reference line, common to all six, m.
    #[serde(default)]
    pub reference_uncertainty_m: f64,
    /// Stiffness of the face; the energy is then told, for orientation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stiffness: Option<StiffnessEntry>,
    /// Angle between the force and the normal of the face, degrees.
    #[serde(default)]
    pub force_angle_deg: f64,
}

/// Force per width A + B C over the depth C.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StiffnessEntry {
    /// A, N/m.
    pub a_n_per_m: f64,
    /// B, N/m².
    pub b_n_per_m2: f64,
    /// Standard uncertainty of both together, as a share: the energy goes with them.
    #[serde(default)]
    pub relative_uncertainty: f64,
}
