//! Target and crush lines of the dossier.

use filmgauge_quantities::TargetKind;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One target in one camera.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TargetEntry {
    /// Camera that sees it.
    pub camera: String,
    /// Target id, once per camera.
    pub id: String,
    /// `quadrant`, `disc`, `ring`, `cross` or `patch`.
    #[schemars(with = "KindWord")]
    pub kind: TargetKind,
    /// Body that carries it.
    pub body: String,
    /// Where it is first seen.
    pub start: StartEntry,
    /// Radius in the picture at the start, px.
    pub radius_px: f64,
    /// Distance of the target's plane from the board's plane, towards the camera, m. Left out, it counts as unknown:
    /// 0 is then used, with the doubt of lying anywhere within a vehicle's width.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plane_offset_m: Option<f64>,
    /// Standard uncertainty of the plane offset, m. One survey places the whole body: the doubt is shared
    /// by all targets of a body in a camera; the largest figure given counts.
    #[serde(default)]
    pub plane_offset_uncertainty_m: f64,
}

#[derive(JsonSchema)]
#[serde(rename_all = "lowercase")]
#[expect(dead_code, reason = "names the words of TargetKind for the published schema")]
enum KindWord {
    Quadrant,
    Disc,
    Ring,
    Cross,
    Patch,
}

/// A target's first place, within a few pixels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StartEntry {
    /// Frame number.
    pub frame: u32,
    /// Place in the stored picture, px (x, y).
    pub px: [f64; 2],
}

/// A crush line: how far a target in the crush zone moves back against its body.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CrushEntry {
    /// Name of the line, such as "front".
    pub id: String,
    /// Target in the crush zone. It is not used for its body's pose.
    pub target: String,
    /// Body it is measured against.
    pub body: String,
}
