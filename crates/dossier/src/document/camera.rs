//! Camera lines of the dossier: footage, clock, reference board, lens.

use super::clock::{FieldsEntry, SpeedEntry, SteadyEntry, ZeroEntry};
use super::reference::{BoardEntry, DepthFromEntry, InclinedEntry, LengthEntry, PlaneEntry, PoseEntry};
use filmgauge_quantities::ViewPlane;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One camera of the test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CameraEntry {
    /// Camera id.
    pub id: String,
    /// Video file, or image sequence as a pattern with one `*`, relative to the dossier.
    pub footage: String,
    /// `side` (x along the path, z up) or `overhead` (x along the path, y to the left).
    #[serde(default)]
    #[schemars(with = "ViewWord")]
    pub view: ViewPlane,
    /// True frames per second. Needed to measure; left out while the dossier is being filled in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub speed: Option<SpeedEntry>,
    /// Length of one exposure, s. A frame's time is its mid-exposure. Needed to measure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub exposure_s: Option<f64>,
    /// Time zero. Needed to measure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub zero: Option<ZeroEntry>,
    /// Rolling shutter: how much later each row is exposed than the one above it, s; 0 for a global shutter.
    #[serde(default)]
    pub row_time_s: f64,
    /// Standard uncertainty of the row time, s.
    #[serde(default)]
    pub row_time_uncertainty_s: f64,
    /// Interlaced film: which field was exposed first. Each field is then a frame of its own, half a frame apart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fields: Option<FieldsEntry>,
    /// What each frame's own shift and turn are removed by, for scanned film or a shaking camera.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steady: Option<SteadyEntry>,
    /// Reference board. Needed to measure, unless `plane` or `pose` stands in its place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub board: Option<BoardEntry>,
    /// Surveyed points of the plane of motion, in place of a board.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plane: Option<PlaneEntry>,
    /// Surveyed points in space that give the camera's pose, in place of a board.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pose: Option<PoseEntry>,
    /// Further known lengths.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub length: Vec<LengthEntry>,
    /// Bodies whose path is inclined to the plane.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub inclined: Vec<InclinedEntry>,
    /// The camera of the other view that tells how bodies come nearer and turn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth_from: Option<DepthFromEntry>,
    /// Standard uncertainty that coding with loss adds to every mark, px. When left out: 0 for footage stored
    /// without loss, 0.04 otherwise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub compression_u_px: Option<f64>,
    /// Lens file, relative to the dossier; an ideal lens when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lens: Option<String>,
}

#[derive(JsonSchema)]
#[serde(rename_all = "lowercase")]
#[expect(dead_code, reason = "names the words of ViewPlane for the published schema")]
enum ViewWord {
    Side,
    Overhead,
}
