//! Why views of a grid may give no lens.

/// Why views gave no lens. A value with a reason, not a fault of the program.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LensFitFailure {
    /// Too few views.
    #[error(
        "{n} views of the grid are too few; take {fewest} or more, with the board tilted differently in each"
    )]
    TooFewViews {
        /// Views given.
        n: usize,
        /// Fewest that will do.
        fewest: usize,
    },
    /// The grid has too few corners.
    #[error("a grid of {columns}x{rows} inner corners is too small; use a board with 3x3 or more")]
    Grid {
        /// Corners along a row.
        columns: usize,
        /// Rows.
        rows: usize,
    },
    /// The pitch is implausible.
    #[error("a pitch of {pitch_m} m is implausible; it must be 0.5 mm to 1 m: check its unit")]
    Pitch {
        /// As given, m.
        pitch_m: f64,
    },
    /// A view has another number of corners.
    #[error(
        "view {view} has {n} corners, but the grid has {expected}; leave the view out or correct the grid's size"
    )]
    Corners {
        /// The view.
        view: String,
        /// Corners it has.
        n: usize,
        /// Corners of the grid.
        expected: usize,
    },
    /// A corner of a view is no number or far outside the picture.
    #[error(
        "corner {corner} of view {view} is no place in a picture of {width} x {height} px; mark it again or leave the view out"
    )]
    OutsidePicture {
        /// The view.
        view: String,
        /// The corner, counted from 0.
        corner: usize,
        /// Width of the picture, px.
        width: u32,
        /// Height of the picture, px.
        height: u32,
    },
    /// The corners of a view are not a flat grid's.
    #[error(
        "the corners of view {view} are no picture of a flat grid; leave the view out or mark its corners again"
    )]
    NoGrid {
        /// The view.
        view: String,
    },
    /// The grid stands the same way in all views.
    #[error(
        "the board stands almost the same way in all views: its planes differ by {greatest_deg:.1}° at most, {least_deg:.0}° \
         or more are needed; tilt the board to the left, right, up and down"
    )]
    Parallel {
        /// Greatest angle between any two, °.
        greatest_deg: f64,
        /// Least that will do, °.
        least_deg: f64,
    },
    /// Different lenses explain the views equally well.
    #[error(
        "the views leave the lens open: many lenses explain them equally well, as when the board stands the same way in all; tilt \
         the board to the left, right, up and down"
    )]
    Open,
    /// No lens explains the views.
    #[error(
        "no lens explains the views: {why}; check that all views are of one camera, one focus and this grid"
    )]
    NoFit {
        /// What was tried.
        why: String,
    },
    /// The views do not fix a focal length.
    #[error(
        "the views do not fix the focal length: {value_px:.0} ± {half_width_px:.0} px (95 %); tilt the board more and let it fill \
         the picture"
    )]
    Undetermined {
        /// Focal length found, px.
        value_px: f64,
        /// Half-width of its 95 % interval, px.
        half_width_px: f64,
    },
}
