//! Which surveyed target each place seen in a picture is: a layout in one plane is laid over the places by a similarity or
//! a homography. Method and known failures: `docs/methods/layout.md`.

mod file;
pub(crate) mod map;
mod matching;
mod seeds;
#[cfg(test)]
mod tests;

pub use file::LayoutFile;
pub use map::ViewMap;
pub use matching::match_layout;

use crate::GeometryError;
use filmgauge_quantities::{PixelCov, PixelPoint, PlanePoint, TargetKind};

/// A target whose place in the plane was surveyed.
#[derive(Debug, Clone, PartialEq)]
pub struct Surveyed {
    /// Its id; no two of a layout are alike.
    pub id: String,
    /// What it looks like; `None` where that is not stated: any kind will do.
    pub kind: Option<TargetKind>,
    /// Where it is.
    pub at: PlanePoint,
}

/// A place seen in the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Its centre, stored or ideal pixels.
    pub place: PixelPoint,
    /// Covariance of the centre, px².
    pub cov: PixelCov,
    /// What it looks like; `None` where that is not known.
    pub kind: Option<TargetKind>,
}

/// How the plane of the layout is taken to be pictured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ViewModel {
    /// Square on: shift, turn and scale. Two targets or more.
    Similarity,
    /// At any slant, with perspective. Four targets or more.
    Homography,
}

impl ViewModel {
    /// Fewest targets that fix it.
    #[must_use]
    pub fn fewest(self) -> usize {
        match self {
            Self::Similarity => 2,
            Self::Homography => 4,
        }
    }

    /// Numbers that it has.
    pub(crate) fn n_terms(self) -> usize {
        2 * self.fewest()
    }
}

/// Which way the layout's x axis runs in the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum XRuns {
    /// To the right.
    Right,
    /// To the left.
    Left,
    /// Not known.
    Either,
}

/// Settings of [`match_layout`].
#[derive(Debug, Clone, PartialEq)]
pub struct LayoutOptions {
    /// How the plane is pictured.
    pub model: ViewModel,
    /// Which way the layout's x axis runs in the picture.
    pub x_runs: XRuns,
    /// Greatest angle between the layout's z axis and upwards in the picture, rad; 0 to π. π for a view from above.
    pub greatest_roll_rad: f64,
    /// Standard uncertainty of a surveyed place along each axis, m; 0 or more.
    pub survey_u_m: f64,
    /// What the model leaves out along each axis (lens distortion, targets off the plane), px; above 0.
    pub model_u_px: f64,
    /// A place is a target's when the squared distance over its covariance is below this; above 0. The default is the
    /// 99.9 % point of χ² with two degrees of freedom: -2 ln 0.001.
    pub greatest_chi2: f64,
    /// Least share of the layout's targets that must be seen; above 0, up to 1.
    pub least_share: f64,
    /// Two assignments of as many targets fit equally well when their χ² differ by less than this; 0 or more. The default
    /// is a likelihood ratio of a thousand: 2 ln 1000.
    pub equal_chi2: f64,
    /// Only so many places are looked at, in the order given: put the best first. 2 to 200.
    pub most_seen: usize,
}

impl Default for LayoutOptions {
    fn default() -> Self {
        Self {
            model: ViewModel::Homography,
            x_runs: XRuns::Either,
            greatest_roll_rad: std::f64::consts::FRAC_PI_6,
            survey_u_m: 0.005,
            model_u_px: 1.0,
            greatest_chi2: 13.816,
            least_share: 0.5,
            equal_chi2: 13.816,
            most_seen: 60,
        }
    }
}

impl LayoutOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`GeometryError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), GeometryError> {
        let above = f64::MIN_POSITIVE;
        let most_seen = self.most_seen as f64;
        for (setting, value, range, rule) in [
            ("greatest_roll_rad", self.greatest_roll_rad, 0.0..=std::f64::consts::PI, "it must be 0 to π"),
            ("survey_u_m", self.survey_u_m, 0.0..=1e3, "it must be 0 m or more"),
            ("model_u_px", self.model_u_px, above..=1e3, "it must be above 0 px"),
            ("greatest_chi2", self.greatest_chi2, above..=1e3, "it must be above 0"),
            ("least_share", self.least_share, above..=1.0, "it must be above 0, up to 1"),
            ("equal_chi2", self.equal_chi2, 0.0..=1e3, "it must be 0 or more"),
            ("most_seen", most_seen, 2.0..=200.0, "it must be 2 to 200"),
        ] {
            if !range.contains(&value) {
                return Err(GeometryError::Setting { setting, value, rule });
            }
        }
        Ok(())
    }
}

/// A layout laid over the places seen.
#[derive(Debug, Clone, PartialEq)]
pub struct LayoutMatch {
    /// For each place seen, in the order given, its target: an index into the layout; `None` where it is none of them.
    pub targets: Vec<Option<usize>>,
    /// How many places have a target.
    pub n_matched: usize,
    /// Coordinates beyond those that the model takes to be fixed; with 0 nothing was checked.
    pub n_spare: usize,
    /// Root mean square distance along one axis between places and targets, px.
    pub rms_px: f64,
    /// From the plane to the picture.
    pub map: ViewMap,
}

/// Why the places could not be told apart. A value with a reason, not a fault of the program.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LayoutFailure {
    /// Too few targets or places.
    #[error(
        "{n_surveyed} surveyed targets and {n_seen} places seen are too few: {needed} of each are needed; \
         survey more, or take a similarity for a view square on"
    )]
    TooFew {
        /// Targets of the layout.
        n_surveyed: usize,
        /// Places seen.
        n_seen: usize,
        /// Fewest that fix the model.
        needed: usize,
    },
    /// The layout cannot fix the model.
    #[error(
        "the surveyed targets lie on one line or in one place, which fixes no view; survey one beside that line"
    )]
    Collinear,
    /// No view of the layout fits.
    #[error(
        "no view of the layout fits: at most {n_matched} of {n_surveyed} targets agree with what is seen, {needed} \
         are needed; check the layout's metres and kinds, or ask for another frame"
    )]
    NoFit {
        /// Most targets that agreed.
        n_matched: usize,
        /// Targets of the layout.
        n_surveyed: usize,
        /// Fewest that must agree.
        needed: usize,
    },
    /// Two assignments fit equally well.
    #[error(
        "two assignments fit equally well: the place at ({:.0}, {:.0}) px is {first} in one and {second} in the other; \
         survey one more target, or state the kinds or which way x runs", place.x, place.y
    )]
    Ambiguous {
        /// A place that differs.
        place: PixelPoint,
        /// What it is in the better one: an id, or words for none.
        first: String,
        /// What it is in the other.
        second: String,
    },
}
