//! What is drawn over a film besides marks, in its stored pixels: the plane's grid, points and axes of bodies, the loose
//! occupant; and what a drawing must know of the film itself: each frame's time, the scale.

use serde::{Deserialize, Serialize};

/// Drawings over one camera's film.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct FilmDrawing {
    /// Camera id.
    pub camera: String,
    /// Metres per pixel in the board's plane; `None` where they are not known.
    pub metres_per_px: Option<f64>,
    /// Mid-exposure of each frame, seconds from time zero.
    pub times_s: Vec<f64>,
    /// Standard uncertainty of each: film speed and time zero, s.
    pub u_times_s: Vec<f64>,
    /// Frames of the picture strip, in order.
    pub strip_frames: Vec<u32>,
    /// The plane of motion as a grid, in the reference frame of a steadied film.
    pub grid: Option<PlaneGrid>,
    /// Moving points.
    pub paths: Vec<FilmPath>,
    /// Axes of moving bodies.
    pub axes: Vec<BodyAxes>,
}

/// Axes of a body at the point that its motion is told of: two arrows of one length.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BodyAxes {
    /// Body id.
    pub body: String,
    /// Length of an arrow, m.
    pub length_m: f64,
    /// In each frame the point, the tip of the arrow to the nose and that of the second arrow, px: up in a side view, to
    /// the left from overhead. `None` where the body's place or angle is not known.
    pub places: Vec<Option<[[f64; 2]; 3]>>,
}

/// Lines of the plane of motion at round metres.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlaneGrid {
    /// Distance from line to line, m.
    pub step_m: f64,
    /// Each line as points within the picture, px.
    pub lines: Vec<GridLine>,
}

/// One line of the grid.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GridLine {
    /// What it stands for, such as "x 2 m".
    pub label: String,
    /// Points along it, px.
    pub points: Vec<[f64; 2]>,
}

/// What a path is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PathKind {
    /// The point of a body that its motion is told of.
    BodyPoint,
    /// A loose occupant in free flight through the vehicle.
    Occupant,
}

/// Where a point was in each frame.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FilmPath {
    /// What it is, such as "c.g. of car".
    pub label: String,
    /// Of what kind.
    pub kind: PathKind,
    /// Place in each frame, px; `None` where it is not known or does not exist.
    pub places: Vec<Option<[f64; 2]>>,
}
