//! Steadying: how each frame's picture lies against a reference frame, from marks that are fixed to film or ground, and
//! its removal from a point, with the covariance of the step. Gate weave and a shaking camera alike.
//!
//! Method, formulas and limits: `docs/methods/steady.md`.

mod fit;
mod table;

pub use table::{SteadyRow, exposure_gains, steady_table};

use crate::GeometryError;
use filmgauge_quantities::{PixelCov, PixelPoint};

/// One fixed mark as read in one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FixedMark {
    /// Where it was read.
    pub point: PixelPoint,
    /// Covariance of the reading, px².
    pub cov: PixelCov,
}

/// Settings of [`steady_step`].
#[derive(Debug, Clone, PartialEq)]
pub struct SteadyOptions {
    /// Standard deviation that a frame's turn is held to have, rad; 0 to 0.1. Where the marks cannot tell the turn (one
    /// mark, or marks too close together) the step has no turn, and this doubt. It also helps to find a bad mark; 0 does
    /// not.
    pub untold_turn_sd_rad: f64,
    /// Least distance of the marks from their middle, root mean square, that a turn is told from, px; above 0.
    pub least_arm_px: f64,
    /// Marks disagree when the chance of a larger misfit is below this; 0 to 0.5.
    pub significance: f64,
    /// Standard uncertainty added to each mark along each axis, for what its covariance does not hold (film shrinkage,
    /// ragged edges), px; 0 or more.
    pub mark_floor_px: f64,
}

impl Default for SteadyOptions {
    fn default() -> Self {
        Self { untold_turn_sd_rad: 3e-4, least_arm_px: 5.0, significance: 1e-3, mark_floor_px: 0.003 }
    }
}

impl SteadyOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`GeometryError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), GeometryError> {
        for (setting, value, range, rule) in [
            ("untold_turn_sd_rad", self.untold_turn_sd_rad, 0.0..=0.1, "it must be 0 to 0.1 rad"),
            ("least_arm_px", self.least_arm_px, 1e-3..=1e6, "it must be above 0"),
            ("significance", self.significance, 1e-12..=0.5, "it must be above 0 and at most 0.5"),
            ("mark_floor_px", self.mark_floor_px, 0.0..=100.0, "it must be 0 to 100 px"),
        ] {
            if !range.contains(&value) {
                return Err(GeometryError::Setting { setting, value, rule });
            }
        }
        Ok(())
    }
}

/// How one frame's picture lies against the reference frame: turned about `pivot`, then shifted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SteadyStep {
    /// What the turn is about: the middle of the marks in the reference frame.
    pub pivot: PixelPoint,
    /// Shift to the right, px.
    pub dx_px: f64,
    /// Shift downwards, px.
    pub dy_px: f64,
    /// Turn from x towards y, rad; 0 where the marks cannot tell it.
    pub turn_rad: f64,
    /// Covariance of dx, dy and turn (px², px rad, rad²).
    pub cov: [[f64; 3]; 3],
    /// Whether the marks told the turn.
    pub turn_told: bool,
    /// Marks used.
    pub n_marks: usize,
    /// The mark left out because it disagrees with all others, by its place in the list.
    pub left_out: Option<usize>,
    /// Root mean square distance of the used marks from where the step puts them, px; none with nothing to spare.
    pub misfit_px: Option<f64>,
}

/// Why a frame cannot be steadied. A value with a reason, not a fault of the program.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SteadyFailure {
    /// No fixed mark is there in both frames.
    #[error("no fixed mark is read both here and in the reference frame")]
    NoMark,
    /// The marks moved against each other, and none of them alone explains it.
    #[error(
        "the {n_marks} fixed marks moved against each other by {misfit_px:.3} px and no single one of them is to blame"
    )]
    Disagree {
        /// Marks there.
        n_marks: usize,
        /// Root mean square misfit, px.
        misfit_px: f64,
    },
    /// Some marks are so much more certain than others that shift and turn cannot be told apart.
    #[error("the fixed marks' covariances differ too much to tell shift from turn; check them")]
    Unsolvable,
    /// A mark or its covariance is no number, or the covariance is not positive.
    #[error("fixed mark number {number} has no usable place or covariance")]
    BadMark {
        /// Its place in the list, from 0.
        number: usize,
    },
}

/// The step from the `reference` marks to the marks read `now`, both in the same order; absent marks are `None`.
///
/// Least squares, weighted with the covariances of both readings; with three marks or more one that disagrees is left
/// out. One mark gives the shift; two or more that stand apart give shift and turn.
///
/// # Errors
/// [`SteadyFailure`] says why there is no step.
pub fn steady_step(
    reference: &[Option<FixedMark>],
    now: &[Option<FixedMark>],
    options: &SteadyOptions,
) -> Result<SteadyStep, SteadyFailure> {
    let pairs = fit::pairs(reference, now, options)?;
    fit::step(&pairs, options)
}

/// Where a point read in a frame lies in the reference frame; the step's covariance is added to the point's.
#[must_use]
pub fn steady_from_image(point: PixelPoint, cov: &PixelCov, step: &SteadyStep) -> (PixelPoint, PixelCov) {
    let (sin, cos) = step.turn_rad.sin_cos();
    let (x, y) = (point.x - step.pivot.x - step.dx_px, point.y - step.pivot.y - step.dy_px);
    let (right, down) = (x * cos + y * sin, y * cos - x * sin);
    // Slopes of (right, down) by dx, dy and turn.
    let slopes = [[-cos, -sin, down], [sin, -cos, -right]];
    let by_step = |a: usize, b: usize| -> f64 {
        let products = (0..3).flat_map(|i| (0..3).map(move |j| (i, j)));
        products.map(|(i, j)| slopes[a][i] * step.cov[i][j] * slopes[b][j]).sum()
    };
    let turned = PixelCov {
        xx: cos * cos * cov.xx + 2.0 * cos * sin * cov.xy + sin * sin * cov.yy,
        xy: (cos * cos - sin * sin) * cov.xy + cos * sin * (cov.yy - cov.xx),
        yy: sin * sin * cov.xx - 2.0 * cos * sin * cov.xy + cos * cos * cov.yy,
    };
    let steadied = PixelCov {
        xx: turned.xx + by_step(0, 0),
        xy: turned.xy + by_step(0, 1),
        yy: turned.yy + by_step(1, 1),
    };
    (step.pivot.moved(right, down), steadied)
}

#[cfg(test)]
mod tests;
