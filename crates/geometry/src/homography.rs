//! Plane to picture from four surveyed points or more: at any slant, with perspective, with covariance and with the points that
//! spoil it named. Method and known failures: `docs/methods/geometry.md`.

mod fit;
mod position;
#[cfg(test)]
mod tests;

use crate::chi2::chi2_limit;
use crate::control::{Entry, check_list};
use crate::layout::map::Normal;
use crate::suspect::{Change, Misfit, Suspicion, sentence, suspicions};
use crate::{ControlFault, ControlResidual, GeometryError, PlaneControl};
use filmgauge_quantities::{PixelCov, PixelPoint, PlaneCov, PlanePoint};
use nalgebra::{Matrix3, SMatrix, SVector};

/// Settings of [`homography`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HomographyOptions {
    /// What the model leaves out along each axis (lens distortion, points off the plane), px; 0 or more.
    pub model_u_px: f64,
    /// Residuals count as too large beyond the point of χ² that a normal variable passes at so many standard deviations;
    /// 1 to 10. The default is 99.9 %.
    pub suspect_sigma: f64,
    /// Residuals this many times their doubt that nothing explains are refused, not widened for; 1 or more.
    pub greatest_ratio: f64,
    /// Least and greatest span of the points along an axis that is taken for metres, m.
    pub plausible_span_m: [f64; 2],
}

impl Default for HomographyOptions {
    fn default() -> Self {
        Self {
            model_u_px: 0.0,
            suspect_sigma: 3.090_232,
            greatest_ratio: 10.0,
            plausible_span_m: [0.02, 300.0],
        }
    }
}

impl HomographyOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`GeometryError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), GeometryError> {
        let [least_m, most_m] = self.plausible_span_m;
        for (setting, value, range, rule) in [
            ("model_u_px", self.model_u_px, 0.0..=1e3, "it must be 0 px or more"),
            ("suspect_sigma", self.suspect_sigma, 1.0..=10.0, "it must be 1 to 10"),
            ("greatest_ratio", self.greatest_ratio, 1.0..=1e6, "it must be 1 or more"),
            ("plausible_span_m", least_m, 0.0..=most_m, "the least must be 0 m or more, up to the greatest"),
        ] {
            if !range.contains(&value) {
                return Err(GeometryError::Setting { setting, value, rule });
            }
        }
        Ok(())
    }
}

/// A plane and its picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Homography {
    /// From (x, z, 1) in metres to the picture's homogeneous coordinates, rows first.
    pub image_from_plane: [[f64; 3]; 3],
    /// Residual of each point, in the order given.
    pub residuals: Vec<ControlResidual>,
    /// Root mean square residual along one axis, px.
    pub rms_px: f64,
    /// Sum of the squared residuals over their covariances.
    pub chi2: f64,
    /// Coordinates beyond the eight that fix it; with 0 nothing was checked.
    pub n_spare: usize,
    /// Factor on the stated covariances, above 1 where the residuals are larger than those say.
    pub cov_factor: f64,
    /// The first eight terms with the ninth 1, of the normalised map.
    terms: SVector<f64, 8>,
    /// Their covariance.
    cov: SMatrix<f64, 8, 8>,
    from: Normal,
    to: Normal,
}

/// Why there is no homography. A value with a reason, not a fault of the program.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum HomographyFailure {
    /// The list cannot be used.
    #[error(transparent)]
    Points(#[from] ControlFault),
    /// Too few points.
    #[error(
        "{n} plane points are too few: a plane at a slant needs 4; survey more, or use a board seen at right angles"
    )]
    TooFew {
        /// Points given.
        n: usize,
    },
    /// All points on one line.
    #[error("the plane points {ids} lie on one line, which fixes no plane; survey two more beside that line")]
    Collinear {
        /// Names of the points.
        ids: String,
    },
    /// All but one on one line.
    #[error(
        "all plane points but {id} lie on one line, which fixes no plane; survey one more beside that line"
    )]
    AllButOne {
        /// The point off the line.
        id: String,
    },
    /// No camera sees the points so.
    #[error("no camera sees the plane points where they are marked: check their names and coordinates")]
    NoView,
    /// Points that spoil the fit.
    #[error("the plane points contradict each other: {}", sentence(.0).unwrap_or_default())]
    Suspect(Vec<Suspicion>),
    /// Residuals far beyond their doubt, and no single cause.
    #[error(
        "the plane points contradict each other: residuals of {rms_px:.2} px are {ratio:.0} times their doubt, and no \
         single point or exchange explains them; check names, coordinates and marks"
    )]
    Contradiction {
        /// Root mean square residual along one axis, px.
        rms_px: f64,
        /// Residual over doubt.
        ratio: f64,
    },
}

/// The map from a surveyed plane to its picture, nearest to the marks in the sense of their covariance and the survey's.
///
/// `seen` are pixels of a picture in which straight lines are straight: ideal pixels, or stored ones of a lens without
/// distortion. Settings are taken to be in range: see [`HomographyOptions::check`]. The start is the normalised direct linear
/// transformation (Hartley 1997, IEEE Trans. PAMI 19:580); Gauss-Newton on the residuals follows.
///
/// # Errors
/// [`HomographyFailure`] says why there is none.
pub fn homography(
    controls: &[PlaneControl],
    options: &HomographyOptions,
) -> Result<Homography, HomographyFailure> {
    check(controls, options)?;
    let ids: Vec<String> = controls.iter().map(|control| control.id.clone()).collect();
    let n_spare = 2 * controls.len() - 8;
    let all = Change { marks: (0..controls.len()).collect(), left_out: None };
    let solved = fit::solved(controls, &all, options);
    let before = solved
        .as_ref()
        .map_or(Misfit { chi2: f64::INFINITY, dof: n_spare, rms_px: f64::INFINITY }, fit::Solved::misfit);
    let found = suspicions(
        &ids,
        before,
        options.suspect_sigma,
        |change| fit::solved(controls, change, options).map(|solved| solved.misfit()),
        |index| fit::away(controls, index, options),
    );
    if !found.is_empty() {
        return Err(HomographyFailure::Suspect(found));
    }
    let solved = solved.ok_or(HomographyFailure::NoView)?;
    let ratio2 = if n_spare == 0 { 0.0 } else { solved.chi2 / n_spare as f64 };
    if ratio2.sqrt() > options.greatest_ratio {
        return Err(HomographyFailure::Contradiction { rms_px: before.rms_px, ratio: ratio2.sqrt() });
    }
    let is_wide = n_spare > 0 && solved.chi2 > chi2_limit(n_spare, options.suspect_sigma);
    Ok(solved.reported(&ids, if is_wide { ratio2 } else { 1.0 }))
}

fn check(controls: &[PlaneControl], options: &HomographyOptions) -> Result<(), HomographyFailure> {
    let at: Vec<[f64; 2]> = controls.iter().map(|control| [control.at.x_m, control.at.z_m]).collect();
    let covs: Vec<[f64; 3]> =
        controls.iter().map(|control| [control.at_cov.xx, control.at_cov.xz, control.at_cov.zz]).collect();
    let entries: Vec<Entry<'_>> = controls
        .iter()
        .zip(&at)
        .zip(&covs)
        .map(|((control, at), at_cov)| {
            let (seen, seen_cov) = (control.seen, control.seen_cov);
            Entry { id: &control.id, at, at_cov, seen, seen_cov }
        })
        .collect();
    check_list(&entries, &["x", "z"], options.plausible_span_m)?;
    if controls.len() < 4 {
        return Err(HomographyFailure::TooFew { n: controls.len() });
    }
    position::check(controls)
}

impl Homography {
    /// The matrix from (x, z, 1).
    pub(crate) fn matrix(&self) -> Matrix3<f64> {
        Matrix3::from_fn(|row, column| self.image_from_plane[row][column])
    }

    /// Where a point of the plane is seen; `None` behind the camera.
    #[must_use]
    pub fn image_of(&self, at: PlanePoint) -> Option<PixelPoint> {
        image_of(&self.matrix(), at)
    }

    /// The plane point seen at a pixel, with the covariance that the mark brings along, and that of the homography itself,
    /// which is common to all marks. `None` at the plane's horizon and beyond.
    #[must_use]
    pub fn plane_of(&self, seen: PixelPoint, cov: &PixelCov) -> Option<(PlanePoint, PlaneCov, PlaneCov)> {
        let matrix = self.matrix();
        let at = plane_of(&matrix, seen)?;
        let slopes = slopes(&matrix, at)?;
        let back = slopes.try_inverse()?;
        let mark = back * nalgebra::Matrix2::new(cov.xx, cov.xy, cov.xy, cov.yy) * back.transpose();
        let by_terms = fit::slopes_by_terms(&self.terms, self.from.apply([at.x_m, at.z_m])) * self.to.spread;
        let moved = back * by_terms;
        let common = moved * self.cov * moved.transpose();
        let plane = |m: nalgebra::Matrix2<f64>| PlaneCov { xx: m.m11, xz: m.m12, zz: m.m22 };
        Some((at, plane(mark), plane(common)))
    }

    /// Covariance of the terms h11 … h32 of the normalised map, whose ninth term is 1, and the normalisation itself: plane
    /// and picture are taken about the middle of the points and divided by their root mean square distance from it.
    #[must_use]
    pub fn covariance(&self) -> [[f64; 8]; 8] {
        std::array::from_fn(|row| std::array::from_fn(|column| self.cov[(row, column)]))
    }

    /// Middle and spread of the points in the plane (m) and in the picture (px), as used by [`Homography::covariance`].
    #[must_use]
    pub fn normalisation(&self) -> [([f64; 2], f64); 2] {
        [(self.from.middle, self.from.spread), (self.to.middle, self.to.spread)]
    }

    /// The matrix moved by one standard deviation along the covariance's principal axis `axis`, 0 to 7.
    pub(crate) fn moved(&self, axis: usize) -> Matrix3<f64> {
        let own = self.cov.symmetric_eigen();
        let by = own.eigenvectors.column(axis) * own.eigenvalues[axis].max(0.0).sqrt();
        fit::full_matrix(&(self.terms + by), &self.from, &self.to)
    }
}

/// Where a matrix puts a plane point; `None` behind the camera.
pub(crate) fn image_of(matrix: &Matrix3<f64>, at: PlanePoint) -> Option<PixelPoint> {
    let seen = matrix * nalgebra::Vector3::new(at.x_m, at.z_m, 1.0);
    (seen.z > 0.0).then(|| PixelPoint::new(seen.x / seen.z, seen.y / seen.z))
}

/// The plane point that a matrix puts at a pixel; `None` at the horizon and beyond.
pub(crate) fn plane_of(matrix: &Matrix3<f64>, seen: PixelPoint) -> Option<PlanePoint> {
    let back = matrix.try_inverse()? * nalgebra::Vector3::new(seen.x, seen.y, 1.0);
    let at = PlanePoint::new(back.x / back.z, back.y / back.z);
    // Ahead of the camera, and a number.
    (back.z > 0.0 && image_of(matrix, at).is_some()).then_some(at)
}

/// Partial derivatives of the pixel by x and z, px per m: columns x and z.
pub(crate) fn slopes(matrix: &Matrix3<f64>, at: PlanePoint) -> Option<nalgebra::Matrix2<f64>> {
    let seen = image_of(matrix, at)?;
    let w = matrix.m31 * at.x_m + matrix.m32 * at.z_m + matrix.m33;
    Some(nalgebra::Matrix2::new(
        (matrix.m11 - seen.x * matrix.m31) / w,
        (matrix.m12 - seen.x * matrix.m32) / w,
        (matrix.m21 - seen.y * matrix.m31) / w,
        (matrix.m22 - seen.y * matrix.m32) / w,
    ))
}
