//! Camera lines of the dossier: footage, film speed, exposure, time zero, reference board, lens.

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
    /// True frames per second.
    pub speed: SpeedEntry,
    /// Length of one exposure, s. A frame's time is its mid-exposure.
    pub exposure_s: f64,
    /// Time zero.
    pub zero: ZeroEntry,
    /// Reference board.
    pub board: BoardEntry,
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

/// Film speed with its source.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SpeedEntry {
    /// True frames per second; never the container's playback rate.
    pub frames_per_s: f64,
    /// Where the figure comes from, such as "camera record".
    pub source: String,
    /// Standard uncertainty divided by the value.
    #[serde(default)]
    pub relative_uncertainty: f64,
}

/// Where time zero lies.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "by", rename_all = "lowercase", deny_unknown_fields)]
pub enum ZeroEntry {
    /// The flash seen in the film; known to one frame interval, evenly.
    Flash {},
    /// Mid-exposure of the given frame; a fraction lies between frames.
    Frame {
        /// Frame number.
        frame: f64,
        /// Standard uncertainty, s; half a frame interval, evenly spread, when left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        uncertainty_s: Option<f64>,
    },
    /// First contact as found in the film's own motion.
    Contact {},
}

/// The reference board, read in the stored picture. It lies along the path; `from` to `to` points
/// towards the struck vehicle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BoardEntry {
    /// First end, px (x, y).
    pub from_px: [f64; 2],
    /// Second end, px (x, y).
    pub to_px: [f64; 2],
    /// Known length, m.
    pub length_m: f64,
    /// Standard uncertainty of the length, m.
    pub uncertainty_m: f64,
    /// Standard uncertainty of reading one end, px, in x and in y.
    #[serde(default = "reading_u_px")]
    pub uncertainty_px: f64,
    /// Camera to the board's plane, m; needed as soon as a target has a plane offset.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub distance_m: Option<f64>,
    /// Standard uncertainty of the distance, m.
    #[serde(default)]
    pub distance_uncertainty_m: f64,
}

/// Common practice, no source: a clear board end is read by eye to about a third of a pixel.
fn reading_u_px() -> f64 {
    0.3
}
