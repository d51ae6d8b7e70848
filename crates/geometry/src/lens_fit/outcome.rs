//! What a lens calibration yields, and why it may not.

use super::options::LensTerms;
use super::pose::Pose;
use crate::Lens;
use filmgauge_quantities::PixelPoint;

/// A calibrated lens with its evidence.
#[derive(Debug, Clone, PartialEq)]
pub struct LensFit {
    /// The lens.
    pub lens: Lens,
    /// Which distortion terms were free; the others are 0.
    pub terms: LensTerms,
    /// Covariance of all terms in the order of [`crate::LENS_TERMS`]; rows and columns of terms that were not free are 0.
    pub cov: [[f64; 9]; 9],
    /// Root mean square distance of corners from where lens and pose put them, of the views used, px.
    pub rms_px: f64,
    /// Standard deviation of one coordinate of a corner as the residuals show it, px.
    pub corner_sd_px: f64,
    /// Corners that counted less than fully because they lie far off.
    pub n_clipped: usize,
    /// The views, in the order given.
    pub views: Vec<FittedView>,
    /// Views that do not belong, worst first.
    pub odd: Vec<OddView>,
    /// All choices of terms that were tried, in the order of [`LensTerms::ALL`]; empty where the terms were given.
    pub trials: Vec<TermTrial>,
    /// Where the lens was calibrated.
    pub field: LensField,
    /// Width and height of the pictures, px.
    pub size_px: (u32, u32),
    /// Rounds of the last bundle.
    pub rounds: u32,
}

impl LensFit {
    /// Standard uncertainty of each term, in the order of [`crate::LENS_TERMS`]; 0 for terms that were not free.
    #[must_use]
    pub fn u(&self) -> [f64; 9] {
        std::array::from_fn(|term| self.cov[term][term].max(0.0).sqrt())
    }

    /// Views that the lens rests on.
    #[must_use]
    pub fn n_used(&self) -> usize {
        self.views.iter().filter(|view| view.is_used).count()
    }
}

/// One view after the fit.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedView {
    /// Its name, as given.
    pub name: String,
    /// Whether the lens rests on it.
    pub is_used: bool,
    /// Root mean square distance of its corners from where lens and pose put them, px.
    pub rms_px: f64,
    /// Seen less expected place of each corner, px, in the order given.
    pub residuals_px: Vec<[f64; 2]>,
    /// Where the grid stood.
    pub pose: GridPose,
}

/// Where a grid stood: a point X of it lies at `turn` X + `at_m`, in the camera's axes x right, y down, z ahead.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GridPose {
    /// Rotation, by rows.
    pub turn: [[f64; 3]; 3],
    /// The grid's first corner, m.
    pub at_m: [f64; 3],
}

impl GridPose {
    /// Angle between the grid's normal and the optical axis, rad; 0 for a grid seen square on.
    #[must_use]
    pub fn tilt_rad(&self) -> f64 {
        self.turn[2][2].abs().min(1.0).acos()
    }

    pub(super) fn of(pose: &Pose) -> Self {
        let turn = pose.turn.matrix();
        let row = |i: usize| [turn[(i, 0)], turn[(i, 1)], turn[(i, 2)]];
        Self { turn: [row(0), row(1), row(2)], at_m: [pose.at.x, pose.at.y, pose.at.z] }
    }
}

/// A view that does not belong, and what was done about it.
#[derive(Debug, Clone, PartialEq)]
pub struct OddView {
    /// Its name, as given.
    pub name: String,
    /// Root mean square of its residuals when it was judged, px.
    pub rms_px: f64,
    /// Median over the views then, px.
    pub median_px: f64,
    /// Whether it was left out.
    pub is_left_out: bool,
    /// Why it was left out or kept.
    pub reason: String,
}

/// One choice of terms, tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TermTrial {
    /// The terms.
    pub terms: LensTerms,
    /// Root mean square distance, px.
    pub rms_px: f64,
    /// Bayesian information criterion less that of the best choice; 0 for the best. 10 is strong evidence against (Kass &
    /// Raftery 1995, Journal of the American Statistical Association 90:773-795).
    pub bic_above_best: f64,
    /// Likelihood ratio χ² by which all terms together fit better, and how many more terms that takes.
    pub chi2_to_full: (f64, usize),
}

/// Where a lens was calibrated: outside, its distortion is guessed on.
#[derive(Debug, Clone, PartialEq)]
pub struct LensField {
    /// Greatest distance of a corner from the principal point, stored px.
    pub radius_px: f64,
    /// Convex outline of all corners used, counted from x to y, stored px.
    pub outline: Vec<PixelPoint>,
    /// Share of the picture within the outline, 0 to 1.
    pub share: f64,
}

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
