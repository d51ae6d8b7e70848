//! What is shown of a lens calibration: each point and what it is off by, and the field in which it holds.

/// What a lens was calibrated from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LensPoint {
    /// Corners of a board.
    Corner,
    /// Points along straight edges.
    EdgePoint,
}

/// What the picture of a lens calibration shows.
#[derive(Debug, Clone, PartialEq)]
pub struct LensPicture {
    /// Heading.
    pub title: String,
    /// Width and height of the calibrated pictures, px.
    pub size_px: (u32, u32),
    /// What the points are.
    pub of: LensPoint,
    /// All points.
    pub points: Vec<LensResidual>,
    /// Convex outline of the points used, stored px.
    pub outline_px: Vec<[f64; 2]>,
    /// Principal point, stored px.
    pub centre_px: [f64; 2],
    /// Greatest distance of a point used from the principal point, px.
    pub field_radius_px: f64,
}

/// One point and what it is off by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LensResidual {
    /// Where it was seen, px.
    pub at_px: [f64; 2],
    /// Seen less expected place, px.
    pub residual_px: [f64; 2],
    /// Whether the lens rests on it.
    pub is_used: bool,
}
