//! Lines of a camera that give its scale: reference board, surveyed points of the plane, surveyed points in space, further
//! known lengths, and how a body's path is inclined.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

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
    /// Frame in which the ends were read; it matters where the film is steadied.
    #[serde(default)]
    pub frame: u32,
}

/// Surveyed points of the plane of motion, seen at any slant: four or more, no three of four on one line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlaneEntry {
    /// The points.
    pub points: Vec<PlanePointEntry>,
    /// Standard uncertainty of reading one point, px, in x and in y.
    #[serde(default = "reading_u_px")]
    pub uncertainty_px: f64,
    /// Standard uncertainty of the survey along each axis, m.
    pub uncertainty_m: f64,
    /// Camera to the plane, m; needed for plane offsets where there is no lens file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub distance_m: Option<f64>,
    /// Standard uncertainty of the distance, m.
    #[serde(default)]
    pub distance_uncertainty_m: f64,
    /// Frame in which the points were read.
    #[serde(default)]
    pub frame: u32,
}

/// A surveyed point of the plane.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanePointEntry {
    /// Name of the point.
    pub name: String,
    /// Where it is read, px (x, y).
    pub px: [f64; 2],
    /// Where it is: along the path and up (overhead: to the left), m.
    pub m: [f64; 2],
}

/// Surveyed points in space, which give the camera's pose; the camera needs a lens file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PoseEntry {
    /// The points.
    pub points: Vec<SpacePointEntry>,
    /// Standard uncertainty of reading one point, px, in x and in y.
    #[serde(default = "reading_u_px")]
    pub uncertainty_px: f64,
    /// Standard uncertainty of the survey along each axis, m.
    pub uncertainty_m: f64,
    /// Where the plane of motion lies: its y for a side camera, its z for an overhead camera, m.
    pub plane_at_m: f64,
    /// Frame in which the points were read.
    #[serde(default)]
    pub frame: u32,
}

/// A surveyed point in space.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SpacePointEntry {
    /// Name of the point.
    pub name: String,
    /// Where it is read, px (x, y).
    pub px: [f64; 2],
    /// Where it is: along the path, to its left, up, m.
    pub m: [f64; 3],
}

/// A further length that was measured on the spot and is seen in the picture.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LengthEntry {
    /// What it is.
    pub name: String,
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
    /// `check`: kept out of the scale and held against it. `scale`: shares in the scale of a board.
    #[serde(default, rename = "for")]
    pub purpose: LengthPurpose,
    /// How far a check length lies in front of the plane, m.
    #[serde(default)]
    pub plane_offset_m: f64,
}

/// What a known length is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum LengthPurpose {
    /// Held against the scale.
    #[default]
    Check,
    /// Shares in it.
    Scale,
}

/// How a body's path is inclined to this camera's plane.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct InclinedEntry {
    /// The body.
    pub body: String,
    /// Turn about the upright axis at x = 0, degrees: positive where the path nears the camera as x grows.
    pub deg: f64,
    /// Its standard uncertainty, degrees.
    #[serde(default)]
    pub uncertainty_deg: f64,
}

/// Which camera tells how bodies move along this one's line of sight.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DepthFromEntry {
    /// A camera of the other view that follows the same bodies.
    pub camera: String,
    /// Where this camera's x = 0 lies along the other's x, m; 0 where both rest on one survey.
    #[serde(default)]
    pub x_m: f64,
    /// Where this camera's plane, at offset 0, lies across the other's (from above: to the left; from the side: up), m. Where a
    /// body turns, its targets' distance beside the other camera's counts; when left out, they are taken to stand in line, with
    /// a standard uncertainty of 0.52 m.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub across_m: Option<f64>,
    /// Its standard uncertainty, m.
    #[serde(default = "depth_place_u_m")]
    pub uncertainty_m: f64,
}

/// Common practice, no source: two boards beside one path are laid to each other within this.
fn depth_place_u_m() -> f64 {
    0.05
}

/// Standard uncertainty of a place that is read by eye, along each axis, px. Common practice, no source: a clear board end
/// is read to about a third of a pixel.
pub const READING_U_PX: f64 = 0.3;

fn reading_u_px() -> f64 {
    READING_U_PX
}
