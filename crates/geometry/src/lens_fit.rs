//! Calibrates a lens from views of a flat grid whose pitch is known: closed-form start, bundle of all views, terms chosen by
//! evidence, covariance from the residuals. Method, error budget and known failures: `docs/methods/lens.md`.

mod bundle;
mod choose;
mod failure;
mod field;
mod options;
mod outcome;
mod pose;
mod settled;
mod spread;
mod start;
#[cfg(test)]
mod tests;
mod views;

pub(crate) use field::field;

pub use failure::LensFitFailure;
pub use options::{LensFitOptions, LensTerms, TermChoice};
pub use outcome::{FittedView, GridPose, LensField, LensFit, OddView, TermTrial};

use crate::GeometryError;
use filmgauge_quantities::{Length, PixelPoint};

/// Least and greatest pitch that is believed, m: outside, a unit has been mistaken.
const USABLE_PITCH_M: std::ops::RangeInclusive<f64> = 5e-4..=1.0;
/// Fewest corners along a side of the grid.
const FEWEST_ALONG: usize = 3;

/// A flat grid of corners.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlatGrid {
    /// Corners along a row; 3 or more.
    pub columns: usize,
    /// Rows; 3 or more.
    pub rows: usize,
    /// Distance of neighbouring corners, the same along rows and columns; 0.5 mm to 1 m.
    pub pitch: Length,
}

impl FlatGrid {
    /// Corners of the grid in its own plane, row by row, the first at the origin, m.
    #[must_use]
    pub fn corners_m(&self) -> Vec<[f64; 2]> {
        let pitch = self.pitch.as_m();
        let at = |row: usize, column: usize| [column as f64 * pitch, row as f64 * pitch];
        (0..self.rows).flat_map(|row| (0..self.columns).map(move |column| at(row, column))).collect()
    }

    /// Whether a lens can be calibrated from such a grid.
    ///
    /// # Errors
    /// [`LensFitFailure::Grid`] for too few corners, [`LensFitFailure::Pitch`] for a pitch that no board has.
    pub fn check(&self) -> Result<(), LensFitFailure> {
        if self.columns < FEWEST_ALONG || self.rows < FEWEST_ALONG {
            return Err(LensFitFailure::Grid { columns: self.columns, rows: self.rows });
        }
        let pitch_m = self.pitch.as_m();
        if !USABLE_PITCH_M.contains(&pitch_m) {
            return Err(LensFitFailure::Pitch { pitch_m });
        }
        Ok(())
    }
}

/// The grid as seen in one picture.
#[derive(Debug, Clone, PartialEq)]
pub struct GridView {
    /// What the picture is called in reports, as its file name.
    pub name: String,
    /// Its corners, row by row, in the grid's order or turned by half a turn, stored px.
    pub corners: Vec<PixelPoint>,
}

/// The lens of the camera that took `views` of `grid`, all of them pictures of `size_px` (width, height).
///
/// Every corner counts alike: what residuals show of a real board is its print and its bending, of which a corner's own
/// covariance knows nothing. Standard uncertainties are scaled by the residuals. Least squares with Huber's loss (Huber
/// 1964, Annals of Mathematical Statistics 35:73-101); residuals and RMS are plain.
///
/// # Errors
/// [`GeometryError::Setting`] for an option out of range; [`GeometryError::LensFit`] with the reason where the views do not
/// give a lens.
pub fn fit_lens(
    grid: &FlatGrid,
    views: &[GridView],
    size_px: (u32, u32),
    options: &LensFitOptions,
) -> Result<LensFit, GeometryError> {
    options.check()?;
    Ok(views::fitted(grid, views, size_px, options)?)
}
