//! Locates straight edges, corners and perforations to a few thousandths of a pixel by fitting the spread of an edge to
//! all pixels beside it. For marks fixed to a film, from which its frames are steadied.
//!
//! Method and error budget: `docs/methods/steady.md`.

mod fit;
mod hole;
mod stretch;
mod strip;
mod trace;
#[cfg(test)]
mod trace_tests;

pub use hole::{Corner, CornerArms, Perforation, locate_corner, locate_perforation};
pub use trace::{EdgePoint, EdgeTrace, TraceFailure, TraceOptions, trace_edge};

use crate::error::{TargetsError, require_all};
use filmgauge_quantities::GreyView;

/// A rectangle of the picture, px; pixel centres have whole numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeBox {
    /// Left side.
    pub left: f64,
    /// Top side.
    pub top: f64,
    /// Right side.
    pub right: f64,
    /// Bottom side.
    pub bottom: f64,
}

/// Which way an edge runs, to within about 10 degrees.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EdgeRun {
    /// Up and down: it gives a column.
    Upright,
    /// Left to right: it gives a row.
    Level,
}

/// What the picture does across an edge, going right or down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EdgeStep {
    /// Dark to bright.
    Brighter,
    /// Bright to dark.
    Darker,
    /// Whichever is there.
    Either,
}

/// Settings of [`locate_edge`], [`locate_corner`] and [`locate_perforation`].
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeOptions {
    /// How far a corner's or a hole's edges are sought on both sides of the place given, px; 0.5 to 100.
    pub search_px: f64,
    /// Stretch that is left out at both ends of a hole's side, for its round corners, px; 0 to 1000.
    pub corner_px: f64,
    /// Pixels on both sides of the edge that the fit takes, px; 2 to 50.
    pub reach_px: f64,
    /// Pixels at or above this share of full scale are clipped: they say no more than that; 0.1 to 1.
    pub saturation_share: f64,
    /// Least step of an edge as a share of full scale; 0 to 1.
    pub least_contrast_share: f64,
    /// Noise is never taken to be below this, grey levels; the default is that of rounding to whole levels, √(1/12).
    pub noise_floor_grey: f64,
    /// Residuals above this share of the step and above [`Self::greatest_residual_ratio`] are no edge; above 0.
    pub greatest_residual_share: f64,
    /// Greatest residual as a multiple of the noise seen between neighbours along the edge; 1 or more.
    pub greatest_residual_ratio: f64,
    /// Greatest standard uncertainty of an edge's place, px; above 0.
    pub greatest_u_px: f64,
    /// Greatest difference of a hole's width and height from the box given, px; above 0.
    pub size_tolerance_px: f64,
}

impl Default for EdgeOptions {
    fn default() -> Self {
        Self {
            search_px: 4.0,
            corner_px: 3.0,
            reach_px: 4.0,
            saturation_share: 0.98,
            least_contrast_share: 0.06,
            noise_floor_grey: 0.288_675,
            greatest_residual_share: 0.08,
            greatest_residual_ratio: 2.5,
            greatest_u_px: 0.2,
            size_tolerance_px: 2.0,
        }
    }
}

impl EdgeOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        const ABOVE_0: std::ops::RangeInclusive<f64> = f64::MIN_POSITIVE..=1e9;
        let above = "it must be above 0";
        require_all(&[
            ("search_px", self.search_px, 0.5..=100.0, "it must be 0.5 to 100 px"),
            ("corner_px", self.corner_px, 0.0..=1000.0, "it must be 0 to 1000 px"),
            ("reach_px", self.reach_px, 2.0..=50.0, "it must be 2 to 50 px"),
            ("saturation_share", self.saturation_share, 0.1..=1.0, "it must be 0.1 to 1"),
            ("least_contrast_share", self.least_contrast_share, 0.0..=1.0, "it must be 0 to 1"),
            ("noise_floor_grey", self.noise_floor_grey, ABOVE_0, above),
            ("greatest_residual_share", self.greatest_residual_share, ABOVE_0, above),
            ("greatest_residual_ratio", self.greatest_residual_ratio, 1.0..=1e9, "it must be 1 or more"),
            ("greatest_u_px", self.greatest_u_px, ABOVE_0, above),
            ("size_tolerance_px", self.size_tolerance_px, ABOVE_0, above),
        ])
    }
}

/// A located edge: the line `across = place + lean (along - middle)`, where across and along are column and row for an
/// upright edge, row and column for a level one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeLine {
    /// Which way it runs.
    pub run: EdgeRun,
    /// Middle of the stretch that was read, along the edge, px.
    pub middle_px: f64,
    /// Where the edge is there, across, px.
    pub place_px: f64,
    /// Change across per pixel along.
    pub lean: f64,
    /// Variance of the place, px².
    pub place_var_px2: f64,
    /// Covariance of place and lean, px.
    pub place_lean_cov: f64,
    /// Variance of the lean.
    pub lean_var: f64,
    /// Level after the edge less level before it, going right or down, grey levels.
    pub step_grey: f64,
    /// Standard deviation of the edge's spread without the pixel's own area, px.
    pub spread_px: f64,
    /// What the fit leaves of one pixel, standard deviation, grey levels.
    pub residual_grey: f64,
    /// Noise of one pixel as seen between neighbours along the edge, grey levels.
    pub noise_grey: f64,
}

impl EdgeLine {
    /// Where the edge is at a place along it, and the variance of that.
    #[must_use]
    pub fn at(&self, along_px: f64) -> (f64, f64) {
        let d = along_px - self.middle_px;
        let variance = self.place_var_px2 + 2.0 * d * self.place_lean_cov + d * d * self.lean_var;
        (self.place_px + self.lean * d, variance)
    }

    /// Standard uncertainty of the place, px.
    #[must_use]
    pub fn u_px(&self) -> f64 {
        self.place_var_px2.sqrt()
    }
}

/// Why there is no edge here. A value with a reason, not a fault of the program.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EdgeFailure {
    /// The pixels that an edge needs do not lie in the picture.
    #[error("the edge's surroundings are not wholly in the picture")]
    OutOfView,
    /// The place given is too small for an edge.
    #[error("a stretch of {length_px:.1} px along the edge is too short; {least_px} px are needed")]
    TooShort {
        /// Stretch given, px.
        length_px: f64,
        /// Stretch needed, px.
        least_px: usize,
    },
    /// No step, or the wrong way round.
    #[error("a step of {step_grey:.1} grey is no edge (least {least_grey:.1} grey)")]
    NoContrast {
        /// Step found, grey levels.
        step_grey: f64,
        /// Least step asked for, grey levels.
        least_grey: f64,
    },
    /// The fit did not settle inside the area given.
    #[error("the search for the edge did not settle in the area given")]
    NoConvergence,
    /// What is there is not one straight edge.
    #[error("not one straight edge: residual {residual_grey:.1} grey at noise {noise_grey:.1} grey")]
    NotStraight {
        /// What the fit leaves of one pixel, grey levels.
        residual_grey: f64,
        /// Noise of one pixel, grey levels.
        noise_grey: f64,
    },
    /// Noise leaves too much doubt.
    #[error("the edge's place is uncertain by {u_px:.3} px")]
    Uncertain {
        /// Standard uncertainty, px.
        u_px: f64,
    },
    /// A hole of another size.
    #[error("the hole is {width_px:.1} x {height_px:.1} px, not of the size given")]
    WrongSize {
        /// Width found, px.
        width_px: f64,
        /// Height found, px.
        height_px: f64,
    },
}

/// The strongest edge in `area` that runs as said and steps as said; every row (or column) of the area is read.
///
/// # Errors
/// [`EdgeFailure`] says why there is no edge to be had here.
pub fn locate_edge(
    view: &GreyView,
    area: &EdgeBox,
    run: EdgeRun,
    step: EdgeStep,
    options: &EdgeOptions,
) -> Result<EdgeLine, EdgeFailure> {
    let strip = strip::Strip::cut(view, area, run, options.reach_px)?;
    let start = strip.coarse(step).ok_or(EdgeFailure::NoContrast {
        step_grey: 0.0,
        least_grey: options.least_contrast_share * f64::from(view.full_scale()),
    })?;
    fit::settle(&strip, start, step, options)
}

#[cfg(test)]
mod tests;
