//! What a lens calibration yields.

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
    /// Covariance of all terms in the order of [`crate::LENS_TERMS`], given that the choice of terms is right; rows and columns
    /// of terms that were not free are 0.
    pub cov: [[f64; 9]; 9],
    /// The same with the doubt about the choice: other choices count by their evidence, and a term that was not free is in
    /// doubt as far as the views allow it. Equal to `cov` where the terms were given. What a lens file holds.
    pub cov_with_choice: [[f64; 9]; 9],
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
    /// Standard uncertainty of each term given the choice, in the order of [`crate::LENS_TERMS`]; 0 for terms not free.
    #[must_use]
    pub fn u(&self) -> [f64; 9] {
        std::array::from_fn(|term| self.cov[term][term].max(0.0).sqrt())
    }

    /// Standard uncertainty of each term with the doubt about the choice.
    #[must_use]
    pub fn u_with_choice(&self) -> [f64; 9] {
        std::array::from_fn(|term| self.cov_with_choice[term][term].max(0.0).sqrt())
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
