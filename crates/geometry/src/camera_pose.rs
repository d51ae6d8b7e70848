//! Where a calibrated camera stands, from surveyed points in space or in one plane, with covariance and with the points that
//! spoil it named. Method and known failures: `docs/methods/geometry.md`.

mod refine;
mod start;
#[cfg(test)]
mod tests;

use crate::camera::{CameraPose, PosedCamera};
use crate::chi2::chi2_limit;
use crate::control::{Entry, check_list};
use crate::rigid::vector;
use crate::suspect::{Change, Misfit, Suspicion, sentence, suspicions};
use crate::{ControlFault, ControlResidual, GeometryError, Lens, SpaceControl};
use filmgauge_quantities::PixelPoint;
use nalgebra::{Matrix2, Matrix3, Vector2, Vector3};
use refine::{Refined, refined};
use start::{Extent, starts};

/// Extents below this share of the greatest count as none.
const FLAT: f64 = 1e-3;
/// A focal length is told from distance only by points whose third extent is above this share of the greatest.
const DEEP: f64 = 0.02;

/// Settings of [`camera_pose`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PoseOptions {
    /// Whether the focal length is found with the pose; the lens' own is then a first guess, good to a factor of three.
    pub finds_focal: bool,
    /// What the model leaves out along each axis, px; 0 or more.
    pub model_u_px: f64,
    /// Residuals count as too large beyond the point of χ² that a normal variable passes at so many standard deviations;
    /// 1 to 10. The default is 99.9 %.
    pub suspect_sigma: f64,
    /// Residuals this many times their doubt that nothing explains are refused, not widened for; 1 or more.
    pub greatest_ratio: f64,
    /// Two poses fit equally well when their χ² differ by less than this; 0 or more. The default is a likelihood ratio of a
    /// thousand: 2 ln 1000.
    pub equal_chi2: f64,
    /// Least and greatest span of the points along an axis that is taken for metres, m.
    pub plausible_span_m: [f64; 2],
    /// Least and greatest distance of the camera from the points that is taken for metres, m.
    pub plausible_distance_m: [f64; 2],
}

impl Default for PoseOptions {
    fn default() -> Self {
        Self {
            finds_focal: false,
            model_u_px: 0.0,
            suspect_sigma: 3.090_232,
            greatest_ratio: 10.0,
            equal_chi2: 13.816,
            plausible_span_m: [0.02, 300.0],
            plausible_distance_m: [0.1, 1000.0],
        }
    }
}

impl PoseOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`GeometryError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), GeometryError> {
        let ([span, most_span], [near, far]) = (self.plausible_span_m, self.plausible_distance_m);
        for (setting, value, range, rule) in [
            ("model_u_px", self.model_u_px, 0.0..=1e3, "it must be 0 px or more"),
            ("suspect_sigma", self.suspect_sigma, 1.0..=10.0, "it must be 1 to 10"),
            ("greatest_ratio", self.greatest_ratio, 1.0..=1e6, "it must be 1 or more"),
            ("equal_chi2", self.equal_chi2, 0.0..=1e3, "it must be 0 or more"),
            ("plausible_span_m", span, 0.0..=most_span, "the least must be 0 m or more, up to the greatest"),
            ("plausible_distance_m", near, 0.0..=far, "the least must be 0 m or more, up to the greatest"),
        ] {
            if !range.contains(&value) {
                return Err(GeometryError::Setting { setting, value, rule });
            }
        }
        Ok(())
    }
}

/// A camera's pose and what supports it.
#[derive(Debug, Clone, PartialEq)]
pub struct PoseFit {
    /// Lens (with the focal length found, where it was asked for) and pose, with covariance.
    pub camera: PosedCamera,
    /// Standard uncertainty of the focal length along the rows, px, where it was found.
    pub focal_u_px: Option<f64>,
    /// Residual of each point, in the order given, stored px.
    pub residuals: Vec<ControlResidual>,
    /// Root mean square residual along one axis, px.
    pub rms_px: f64,
    /// Sum of the squared residuals over their covariances.
    pub chi2: f64,
    /// Coordinates beyond those that fix it; with 0 nothing was checked.
    pub n_spare: usize,
    /// Factor on the stated covariances, above 1 where the residuals are larger than those say.
    pub cov_factor: f64,
    /// Distance from the camera to the middle of the points, m.
    pub distance_m: f64,
    /// Whether the points lie in one plane.
    pub is_planar: bool,
    /// The next best pose; points in one plane seen from afar have two.
    pub alternative: Option<PoseAlternative>,
}

/// Another pose that the points allow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PoseAlternative {
    /// The pose.
    pub pose: CameraPose,
    /// Its root mean square residual along one axis, px.
    pub rms_px: f64,
    /// Its χ².
    pub chi2: f64,
    /// Its residual over the better pose's; `None` where that is 0.
    pub error_ratio: Option<f64>,
    /// Whether it fits as well: see [`PoseOptions::equal_chi2`].
    pub fits_as_well: bool,
}

/// Why there is no pose. A value with a reason, not a fault of the program.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PoseFailure {
    /// The list cannot be used.
    #[error(transparent)]
    Points(#[from] ControlFault),
    /// Too few points.
    #[error("{n} control points are too few: {needed} are needed; survey more")]
    TooFew {
        /// Points given.
        n: usize,
        /// Fewest that are needed.
        needed: usize,
    },
    /// All points on one line.
    #[error("the control points lie on one line, which fixes no pose; survey some beside that line")]
    Collinear,
    /// The focal length cannot be told from the distance.
    #[error(
        "the control points lie in one plane, or nearly so: focal length and distance cannot be told apart; \
         survey points in front of it or behind, or calibrate the lens"
    )]
    FlatForFocal,
    /// A mark outside the lens' field.
    #[error("{id}: {why}")]
    Lens {
        /// The point.
        id: String,
        /// What the lens says.
        why: Box<GeometryError>,
    },
    /// No pose sees the points so.
    #[error(
        "no place of the camera shows the control points where they are marked: check their names and coordinates"
    )]
    NoView,
    /// Points that spoil the fit.
    #[error("the control points contradict each other: {}", sentence(.0).unwrap_or_default())]
    Suspect(Vec<Suspicion>),
    /// Residuals far beyond their doubt, and no single cause.
    #[error(
        "the control points contradict each other: residuals of {rms_px:.2} px are {ratio:.0} times their doubt, and no \
         single point or exchange explains them; check names, coordinates, marks and lens"
    )]
    Contradiction {
        /// Root mean square residual along one axis, px.
        rms_px: f64,
        /// Residual over doubt.
        ratio: f64,
    },
    /// The camera would stand at an implausible distance.
    #[error(
        "the camera would stand {distance_m:.3} m from the control points, outside {least_m} to {most_m} m; \
         are their coordinates in metres, and is it this camera's lens?"
    )]
    Distance {
        /// Distance found, m.
        distance_m: f64,
        /// Least that is taken as plausible, m.
        least_m: f64,
        /// Most that is taken as plausible, m.
        most_m: f64,
    },
}

/// A control point as the fit sees it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sighted {
    pub(crate) index: usize,
    pub(crate) at: Vector3<f64>,
    pub(crate) at_cov: Matrix3<f64>,
    pub(crate) seen: PixelPoint,
    pub(crate) seen_cov: Matrix2<f64>,
    /// Direction of the mark: right and down over ahead.
    pub(crate) ray: Vector2<f64>,
}

/// The pose of a camera with a known lens, nearest to the marks in the sense of their covariance and the survey's.
///
/// Marks are stored pixels. Settings are taken to be in range: see [`PoseOptions::check`]. First poses come from the
/// homography's slopes (Collins & Bartoli 2014), from three points (Grunert 1841) and from the direct linear transformation; the
/// best are refined by Levenberg-Marquardt on the stored pixels. The covariance holds marks and survey; what the lens terms add
/// is in [`PosedCamera::by_lens`].
///
/// # Errors
/// [`PoseFailure`] says why there is none.
pub fn camera_pose(
    controls: &[SpaceControl],
    lens: &Lens,
    options: &PoseOptions,
) -> Result<PoseFit, PoseFailure> {
    let needed = if options.finds_focal { 6 } else { 4 };
    check(controls, needed, options)?;
    let points = sighted(controls, lens, options)?;
    let extent = Extent::of(&points);
    let [longest, second, third] = extent.spread_m;
    if second <= FLAT * longest {
        return Err(PoseFailure::Collinear);
    }
    if options.finds_focal && third <= DEEP * longest {
        return Err(PoseFailure::FlatForFocal);
    }
    let ids: Vec<String> = controls.iter().map(|control| control.id.clone()).collect();
    let n_spare = (2 * points.len()).saturating_sub(if options.finds_focal { 7 } else { 6 });
    let found = solved(&points, lens, options);
    let before =
        found.first().map_or(Misfit { chi2: f64::INFINITY, dof: n_spare, rms_px: f64::INFINITY }, |best| {
            misfit(best, n_spare)
        });
    let suspect = suspicions(
        &ids,
        before,
        options.suspect_sigma,
        |change| {
            let changed = changed(&points, change);
            let dof = n_spare.saturating_sub(2 * (points.len() - changed.len()));
            solved(&changed, lens, options).first().map(|best| misfit(best, dof))
        },
        |index| away(&points, index, lens, options),
    );
    if !suspect.is_empty() {
        return Err(PoseFailure::Suspect(suspect));
    }
    reported(&ids, &found, n_spare, third <= FLAT * longest, &extent, options)
}

fn reported(
    ids: &[String],
    found: &[Refined],
    n_spare: usize,
    is_planar: bool,
    extent: &Extent,
    options: &PoseOptions,
) -> Result<PoseFit, PoseFailure> {
    let best = found.first().ok_or(PoseFailure::NoView)?;
    let rms_px = misfit(best, n_spare).rms_px;
    let ratio2 = if n_spare == 0 { 0.0 } else { best.chi2 / n_spare as f64 };
    if ratio2.sqrt() > options.greatest_ratio {
        return Err(PoseFailure::Contradiction { rms_px, ratio: ratio2.sqrt() });
    }
    let distance_m = (vector(best.pose.centre) - extent.middle).norm();
    let [least_m, most_m] = options.plausible_distance_m;
    if !(least_m..=most_m).contains(&distance_m) {
        return Err(PoseFailure::Distance { distance_m, least_m, most_m });
    }
    let is_wide = n_spare > 0 && best.chi2 > chi2_limit(n_spare, options.suspect_sigma);
    let cov_factor = if is_wide { ratio2 } else { 1.0 };
    let cov = best.cov * cov_factor;
    Ok(PoseFit {
        camera: PosedCamera {
            lens: best.lens,
            pose: best.pose,
            cov: std::array::from_fn(|row| std::array::from_fn(|column| cov[(row, column)])),
            by_lens: std::array::from_fn(|row| std::array::from_fn(|column| best.by_lens[(row, column)])),
        },
        focal_u_px: best.focal_relative_u.map(|u| u * cov_factor.sqrt() * best.lens.fx_px),
        residuals: best
            .residuals
            .iter()
            .map(|(index, residual, chi2)| {
                let id = ids[*index].clone();
                ControlResidual { id, x_px: residual.x, y_px: residual.y, chi2: *chi2 }
            })
            .collect(),
        rms_px,
        chi2: best.chi2,
        n_spare,
        cov_factor,
        distance_m,
        is_planar,
        alternative: found.get(1).map(|next| PoseAlternative {
            pose: next.pose,
            rms_px: misfit(next, n_spare).rms_px,
            chi2: next.chi2,
            error_ratio: (rms_px > 0.0).then(|| misfit(next, n_spare).rms_px / rms_px),
            fits_as_well: next.chi2 - best.chi2 < options.equal_chi2,
        }),
    })
}

fn check(controls: &[SpaceControl], needed: usize, options: &PoseOptions) -> Result<(), PoseFailure> {
    let places: Vec<[f64; 3]> = controls.iter().map(|control| control.at.xyz()).collect();
    let entries: Vec<Entry<'_>> = controls
        .iter()
        .zip(&places)
        .map(|(control, at)| {
            let (seen, seen_cov) = (control.seen, control.seen_cov);
            Entry { id: &control.id, at, at_cov: control.at_cov.0.as_flattened(), seen, seen_cov }
        })
        .collect();
    check_list(&entries, &["x", "y", "z"], options.plausible_span_m)?;
    if controls.len() < needed {
        return Err(PoseFailure::TooFew { n: controls.len(), needed });
    }
    Ok(())
}

fn sighted(
    controls: &[SpaceControl],
    lens: &Lens,
    options: &PoseOptions,
) -> Result<Vec<Sighted>, PoseFailure> {
    let of = |(index, control): (usize, &SpaceControl)| {
        let ideal = lens
            .undistort(control.seen)
            .map_err(|why| PoseFailure::Lens { id: control.id.clone(), why: Box::new(why) })?;
        let (x, y) = lens.normalised(ideal);
        let (cov, model) = (control.seen_cov, options.model_u_px.powi(2));
        Ok(Sighted {
            index,
            at: vector(control.at),
            at_cov: Matrix3::from_fn(|row, column| control.at_cov.0[row][column]),
            seen: control.seen,
            seen_cov: Matrix2::new(cov.xx + model, cov.xy, cov.xy, cov.yy + model),
            ray: Vector2::new(x, y),
        })
    };
    controls.iter().enumerate().map(of).collect()
}

/// Poses that the points allow, best first.
fn solved(points: &[Sighted], lens: &Lens, options: &PoseOptions) -> Vec<Refined> {
    let firsts = starts(points, &Extent::of(points));
    refined(points, lens, &firsts, options.finds_focal)
}

/// The points with other marks, or without one.
fn changed(points: &[Sighted], change: &Change) -> Vec<Sighted> {
    let used = points.iter().filter(|point| Some(point.index) != change.left_out);
    used.map(|point| {
        let Sighted { seen, seen_cov, ray, .. } = points[change.marks[point.index]];
        Sighted { seen, seen_cov, ray, ..*point }
    })
    .collect()
}

fn misfit(best: &Refined, dof: usize) -> Misfit {
    let squares: f64 = best.residuals.iter().map(|(_, residual, _)| residual.norm_squared()).sum();
    let n = best.residuals.len() as f64;
    Misfit { chi2: best.chi2, dof, rms_px: (squares / (2.0 * n)).sqrt() }
}

/// How far a point's mark lies from where the pose by the others puts it, px, and in which direction it stands, in words.
fn away(points: &[Sighted], index: usize, lens: &Lens, options: &PoseOptions) -> Option<(f64, String)> {
    let change = Change { marks: (0..points.len()).collect(), left_out: Some(index) };
    let best = solved(&changed(points, &change), lens, options).into_iter().next()?;
    let camera = PosedCamera::exact(best.lens, best.pose);
    let point = &points[index];
    let expected = camera.image_of(crate::rigid::point(point.at))?;
    let ray = camera.ray(point.seen).ok()?;
    let along = (point.at - vector(ray.from)).dot(&Vector3::from(ray.direction))
        / Vector3::from(ray.direction).norm_squared();
    let near = vector(ray.from) + Vector3::from(ray.direction) * along;
    let words = format!(
        "its line of sight passes nearest at x {:.3}, y {:.3}, z {:.3} m, the list says x {:.3}, y {:.3}, z {:.3} m",
        near.x, near.y, near.z, point.at.x, point.at.y, point.at.z
    );
    Some((expected.distance(point.seen), words))
}
