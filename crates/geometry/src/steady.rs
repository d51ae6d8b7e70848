//! Steadying: how each frame's picture lies against a reference frame, from marks that are fixed to film or ground, and
//! its removal from a point, with the covariance of the step. Gate weave and a shaking camera alike.
//!
//! Method, formulas and limits: `docs/methods/steady.md`.

mod chance;
mod choose;
mod film;
mod fit;
mod shape;
mod table;
mod through;

pub use choose::{SteadyEvidence, steady_evidence, steady_model};
pub use film::{SteadyFilm, steady_film};
pub use shape::SteadyModel;
pub use table::{SteadyRow, exposure_gains, steady_table};
pub use through::{ideal_mark, steady_from_stored, stored_from_steady};

use crate::GeometryError;
use filmgauge_quantities::{PixelCov, PixelPoint};
use nalgebra::{Matrix2, SMatrix};
use serde::{Deserialize, Serialize};
use shape::{MOST, Shape, Values};

/// One fixed mark as read in one frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FixedMark {
    /// Where it was read.
    pub point: PixelPoint,
    /// Covariance of the reading, px².
    pub cov: PixelCov,
}

/// Settings of [`steady_step`].
#[derive(Debug, Clone, PartialEq)]
pub struct SteadyOptions {
    /// What a frame's step may be; see [`steady_evidence`].
    pub model: SteadyModel,
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
        Self {
            model: SteadyModel::Turn,
            untold_turn_sd_rad: 3e-4,
            least_arm_px: 5.0,
            significance: 1e-3,
            mark_floor_px: 0.003,
        }
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

/// How one frame's picture lies against the reference frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SteadyStep {
    shape: Shape,
    values: Values,
    cov: [[f64; MOST]; MOST],
    /// Whether the marks told the turn.
    pub turn_told: bool,
    /// Marks used.
    pub n_marks: usize,
    /// The mark left out because it disagrees with all others, by its place in the list.
    pub left_out: Option<usize>,
    /// Root mean square distance of the used marks from where the step puts them, px; none with nothing to spare.
    pub misfit_px: Option<f64>,
}

impl SteadyStep {
    /// Its model; simpler than the one asked for where too few marks were there.
    #[must_use]
    pub fn model(&self) -> SteadyModel {
        self.shape.model
    }

    /// What a turn is about: the middle of the marks in the reference frame.
    #[must_use]
    pub fn pivot(&self) -> PixelPoint {
        self.shape.pivot
    }

    /// Shift of the pivot to the right and down, px, and turn from x towards y, rad.
    #[must_use]
    pub fn shift_and_turn(&self) -> [f64; 3] {
        [self.values[0], self.values[1], self.values[2]]
    }

    /// Covariance of [`SteadyStep::shift_and_turn`] (px², px rad, rad²). Where the marks cannot tell the turn, its
    /// variance is the one assumed.
    #[must_use]
    pub fn cov(&self) -> [[f64; 3]; 3] {
        std::array::from_fn(|i| std::array::from_fn(|j| self.cov[i][j]))
    }
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
/// out. One mark gives the shift; two or more that stand apart give the turn, four a change of perspective.
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

/// Where a point read in a frame lies in the reference frame; the step's covariance is added to the point's. `None` where
/// the step has no inverse there.
#[must_use]
pub fn steady_from_image(
    point: PixelPoint,
    cov: &PixelCov,
    step: &SteadyStep,
) -> Option<(PixelPoint, PixelCov)> {
    let at = step.shape.back(&step.values, point)?;
    let back = step.shape.by_point(&step.values, at).try_inverse()?;
    let by_step = step.shape.by_values(&step.values, at);
    let of_step = SMatrix::<f64, MOST, MOST>::from_fn(|i, j| step.cov[i][j]);
    let read = Matrix2::new(cov.xx, cov.xy, cov.xy, cov.yy);
    let whole = back * (read + by_step * of_step * by_step.transpose()) * back.transpose();
    Some((at, PixelCov { xx: whole[(0, 0)], xy: whole[(0, 1)], yy: whole[(1, 1)] }))
}

/// Where a point of the reference frame lies in a frame; the inverse of [`steady_from_image`].
#[must_use]
pub fn image_from_steady(point: PixelPoint, step: &SteadyStep) -> PixelPoint {
    step.shape.place(&step.values, point)
}

#[cfg(test)]
mod tests;
