//! What is drawn over a film besides marks, in its stored pixels: the plane's grid, points of bodies, the loose occupant.

/// Drawings over one camera's film.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FilmDrawing {
    /// Camera id.
    pub camera: String,
    /// The plane of motion as a grid, in the reference frame of a steadied film.
    pub grid: Option<PlaneGrid>,
    /// Moving points.
    pub paths: Vec<FilmPath>,
}

/// Lines of the plane of motion at round metres.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaneGrid {
    /// Distance from line to line, m.
    pub step_m: f64,
    /// Each line as points within the picture, px.
    pub lines: Vec<GridLine>,
}

/// One line of the grid.
#[derive(Debug, Clone, PartialEq)]
pub struct GridLine {
    /// What it stands for, such as "x 2 m".
    pub label: String,
    /// Points along it, px.
    pub points: Vec<[f64; 2]>,
}

/// What a path is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PathKind {
    /// The point of a body that its motion is told of.
    BodyPoint,
    /// A loose occupant in free flight through the vehicle.
    Occupant,
}

/// Where a point was in each frame.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmPath {
    /// What it is, such as "c.g. of car".
    pub label: String,
    /// Of what kind.
    pub kind: PathKind,
    /// Place in each frame, px; `None` where it is not known or does not exist.
    pub places: Vec<Option<[f64; 2]>>,
}
