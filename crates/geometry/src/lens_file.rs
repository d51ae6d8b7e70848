//! The lens file: text to a lens with the covariance of its terms and the field it was calibrated in, and back.

mod axes;
mod opencv;
#[cfg(test)]
mod tests;
mod toml_form;

use crate::{GeometryError, Lens, LensFit, PlumbLineFit};
use filmgauge_quantities::PixelPoint;

/// Names of the lens terms, in the order of [`LensFile::u`].
pub const LENS_TERMS: [&str; 9] = ["fx_px", "fy_px", "cx_px", "cy_px", "k1", "k2", "k3", "p1", "p2"];

/// A lens, how well its terms are known, and the picture and field it belongs to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LensFile {
    /// The lens.
    pub lens: Lens,
    /// Standard uncertainty of each term, in the order of [`LENS_TERMS`] and in the term's own unit; 0 where not stated.
    pub u: [f64; 9],
    /// Correlation coefficients of the terms, in the same order; 1 on the diagonal, 0 beside it where not stated.
    pub correlation: [[f64; 9]; 9],
    /// Width and height of the calibrated picture, px, where stated.
    pub size_px: Option<(u32, u32)>,
    /// Greatest distance from the principal point at which the lens was calibrated, stored px, where stated.
    pub field_radius_px: Option<f64>,
    /// Root mean square distance of corners from their expected places in the calibration, px, where stated.
    pub rms_px: Option<f64>,
    /// Views that the calibration rests on, where stated.
    pub n_views: Option<u32>,
}

impl LensFile {
    /// A lens of which nothing more is stated: uncorrelated terms with standard uncertainties `u`.
    #[must_use]
    pub fn of(lens: Lens, u: [f64; 9], size_px: Option<(u32, u32)>) -> Self {
        let correlation = axes::UNCORRELATED;
        Self { lens, u, correlation, size_px, field_radius_px: None, rms_px: None, n_views: None }
    }

    /// The file of a lens calibrated from views of a grid.
    #[must_use]
    pub fn of_fit(fit: &LensFit) -> Self {
        let (u, correlation) = axes::split(&fit.cov_with_choice);
        Self {
            lens: fit.lens,
            u,
            correlation,
            size_px: Some(fit.size_px),
            field_radius_px: Some(fit.field.radius_px),
            rms_px: Some(fit.rms_px),
            n_views: u32::try_from(fit.n_used()).ok(),
        }
    }

    /// The file of a lens whose distortion comes from straight edges in a picture of `size_px`.
    #[must_use]
    pub fn of_plumb_lines(fit: &PlumbLineFit, size_px: (u32, u32)) -> Self {
        let mut cov = [[0.0; 9]; 9];
        // cx, cy, k1 and k2 stand together in the order of the terms.
        for (row, found) in cov[2..6].iter_mut().zip(fit.cov_with_centre) {
            row[2..6].copy_from_slice(&found);
        }
        let (u, correlation) = axes::split(&cov);
        Self {
            correlation,
            field_radius_px: Some(fit.field.radius_px),
            rms_px: Some(fit.rms_px),
            ..Self::of(fit.lens, u, Some(size_px))
        }
    }

    /// Reads the text of a lens file in either form, told apart by its first characters: TOML with one table `[lens]`, or
    /// OpenCV's YAML, which begins with `%YAML`. Keys of both: `docs/formats.md`.
    ///
    /// # Errors
    /// [`GeometryError::LensFile`] with `file_name` and line for text that is no such file.
    pub fn parse(text: &str, file_name: &str) -> Result<Self, GeometryError> {
        if opencv::is_of(text) { opencv::parse(text, file_name) } else { toml_form::parse(text, file_name) }
    }

    /// The text of a lens file that [`LensFile::parse`] reads back to the same values.
    #[must_use]
    pub fn to_toml(&self) -> String {
        toml_form::text(self)
    }

    /// The lens as OpenCV's calibration writes it; uncertainties, which that form does not know, are left out.
    #[must_use]
    pub fn to_opencv_yaml(&self) -> String {
        opencv::text(self)
    }

    /// Covariance of the terms, in the order of [`LENS_TERMS`].
    #[must_use]
    pub fn covariance(&self) -> [[f64; 9]; 9] {
        std::array::from_fn(|i| std::array::from_fn(|j| self.u[i] * self.u[j] * self.correlation[i][j]))
    }

    /// The lens moved by so many standard uncertainties along principal axis `axis` of its correlation, 0 to 8: the nine moves are
    /// uncorrelated, and their squares add up to the covariance. Terms that are not correlated are axes of their own, in the
    /// order of [`LENS_TERMS`]. An axis beyond the last leaves the lens as it is.
    #[must_use]
    pub fn perturbed(&self, axis: usize, times: f64) -> Lens {
        let mut values = terms(&self.lens);
        if let Some(step) = axes::steps(&self.u, &self.correlation).get(axis) {
            for (value, by) in values.iter_mut().zip(step) {
                *value += times * by;
            }
        }
        from_terms(values)
    }

    /// Whether the lens was calibrated at a stored pixel; `true` where the file states no field.
    #[must_use]
    pub fn covers(&self, stored: PixelPoint) -> bool {
        let centre = PixelPoint::new(self.lens.cx_px, self.lens.cy_px);
        self.field_radius_px.is_none_or(|radius_px| stored.distance(centre) <= radius_px)
    }
}

pub(crate) fn terms(lens: &Lens) -> [f64; 9] {
    [lens.fx_px, lens.fy_px, lens.cx_px, lens.cy_px, lens.k1, lens.k2, lens.k3, lens.p1, lens.p2]
}

pub(crate) fn from_terms([fx_px, fy_px, cx_px, cy_px, k1, k2, k3, p1, p2]: [f64; 9]) -> Lens {
    Lens { fx_px, fy_px, cx_px, cy_px, k1, k2, k3, p1, p2 }
}

fn fault(text: &str, at: usize, file_name: &str, why: &str) -> GeometryError {
    let before = text.as_bytes().iter().take(at);
    let line = 1 + before.filter(|byte| **byte == b'\n').count();
    GeometryError::LensFile { file: file_name.to_owned(), line, why: why.to_owned() }
}
