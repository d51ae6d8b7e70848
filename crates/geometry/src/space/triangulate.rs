//! A point in space from marks of two cameras or more, with covariance, and how far two lines of sight miss each other.

use super::SpaceFailure;
use crate::camera::{PosedCamera, stored_by_point_and_pose};
use crate::chi2::chi2_limit;
use crate::levenberg::{Equations, settled};
use crate::rigid::{point, vector};
use filmgauge_quantities::{PixelCov, PixelPoint, SpaceCov, SpacePoint};
use nalgebra::{Matrix2, Matrix3, SMatrix, Vector2, Vector3};

/// One camera's mark of a point.
#[derive(Debug, Clone, Copy)]
pub struct Sighting<'a> {
    /// The camera.
    pub camera: &'a PosedCamera,
    /// Where it sees the point, stored px.
    pub seen: PixelPoint,
    /// Covariance of the mark, px².
    pub cov: PixelCov,
}

/// Settings of [`triangulate`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TriangulateOptions {
    /// The widest angle between two lines of sight must be so much, rad; 0 to π/2.
    pub least_angle_rad: f64,
    /// Residuals count as too large beyond the point of χ² that a normal variable passes at so many standard deviations;
    /// 1 to 10. The default is 99.9 %.
    pub suspect_sigma: f64,
}

impl Default for TriangulateOptions {
    fn default() -> Self {
        Self { least_angle_rad: 0.02, suspect_sigma: 3.090_232 }
    }
}

impl TriangulateOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`crate::GeometryError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), crate::GeometryError> {
        let right_angle = std::f64::consts::FRAC_PI_2;
        for (setting, value, range, rule) in [
            ("least_angle_rad", self.least_angle_rad, 0.0..=right_angle, "it must be 0 to π/2"),
            ("suspect_sigma", self.suspect_sigma, 1.0..=10.0, "it must be 1 to 10"),
        ] {
            if !range.contains(&value) {
                return Err(crate::GeometryError::Setting { setting, value, rule });
            }
        }
        Ok(())
    }
}

/// A point in space.
#[derive(Debug, Clone, PartialEq)]
pub struct SpaceFix {
    /// The point.
    pub at: SpacePoint,
    /// Covariance that the marks bring along.
    pub cov: SpaceCov,
    /// Covariance that the cameras' poses bring along; common to all points of these cameras.
    pub pose_cov: SpaceCov,
    /// Residual of each mark, px.
    pub residuals: Vec<[f64; 2]>,
    /// Sum of the squared residuals over the marks' covariances.
    pub chi2: f64,
    /// Coordinates beyond the three that fix the point.
    pub n_spare: usize,
    /// Whether the residuals are within what the marks' doubt explains.
    pub is_consistent: bool,
    /// Widest angle between two lines of sight, rad.
    pub angle_rad: f64,
}

/// The point in space nearest to the marks in the sense of their covariance.
///
/// The start is the point of least squared distance from the lines of sight; Levenberg-Marquardt on the stored pixels follows
/// (the optimum that Hartley & Sturm 1997, Computer Vision and Image Understanding 68:146, give in closed form for two cameras and
/// equal round covariances). Settings are taken to be in range.
///
/// # Errors
/// [`SpaceFailure`] says why there is none.
pub fn triangulate(
    sightings: &[Sighting<'_>],
    options: &TriangulateOptions,
) -> Result<SpaceFix, SpaceFailure> {
    let angle_rad = checked_angle(sightings, options)?;
    let start = nearest_to_rays(sightings)?;
    let found =
        settled(start, |at, _| equations(sightings, at), |at, step| at + step).ok_or(SpaceFailure::Behind)?;
    let mut pose_cov = Matrix3::zeros();
    let mut residuals = Vec::with_capacity(sightings.len());
    for sighting in sightings {
        let (residual, weight, by_point, by_pose) =
            weighed(sighting, &found.at).ok_or(SpaceFailure::Behind)?;
        let follows = found.cov * by_point.transpose() * weight * by_pose;
        let cov = SMatrix::<f64, 6, 6>::from_fn(|row, column| sighting.camera.cov[row][column]);
        pose_cov += follows * cov * follows.transpose();
        residuals.push([residual.x, residual.y]);
    }
    let n_spare = 2 * sightings.len() - 3;
    Ok(SpaceFix {
        at: point(found.at),
        cov: space_cov(&found.cov),
        pose_cov: space_cov(&pose_cov),
        residuals,
        chi2: found.chi2,
        n_spare,
        is_consistent: found.chi2 <= chi2_limit(n_spare, options.suspect_sigma),
        angle_rad,
    })
}

pub(super) fn space_cov(cov: &Matrix3<f64>) -> SpaceCov {
    SpaceCov([0, 1, 2].map(|row| [0, 1, 2].map(|column| cov[(row, column)])))
}

/// The widest angle between two lines of sight, rad, where it is wide enough.
fn checked_angle(sightings: &[Sighting<'_>], options: &TriangulateOptions) -> Result<f64, SpaceFailure> {
    let mut rays = Vec::with_capacity(sightings.len());
    for sighting in sightings {
        rays.push(direction(sighting)?);
        let cov = sighting.cov;
        if !(cov.xx > 0.0 && cov.xx * cov.yy - cov.xy * cov.xy > 0.0) {
            let what = format!("the covariance of mark {} is not positive", rays.len());
            return Err(SpaceFailure::Input { what });
        }
    }
    let mut centres: Vec<SpacePoint> = Vec::new();
    for sighting in sightings {
        let centre = sighting.camera.pose.centre;
        if centres.iter().all(|other| other.distance(centre) > 1e-6) {
            centres.push(centre);
        }
    }
    if centres.len() < 2 {
        return Err(SpaceFailure::TooFewCameras { n: centres.len() });
    }
    let mut widest = 0.0_f64;
    for (i, a) in rays.iter().enumerate() {
        for b in &rays[i + 1..] {
            widest = widest.max(a.cross(b).norm().atan2(a.dot(b).abs()));
        }
    }
    if widest < options.least_angle_rad {
        let (angle_deg, least_deg) = (widest.to_degrees(), options.least_angle_rad.to_degrees());
        return Err(SpaceFailure::Parallel { angle_deg, least_deg });
    }
    Ok(widest)
}

/// Unit direction of a line of sight.
fn direction(sighting: &Sighting<'_>) -> Result<Vector3<f64>, SpaceFailure> {
    let ray = sighting.camera.ray(sighting.seen).map_err(|why| SpaceFailure::Lens(Box::new(why)))?;
    Ok(Vector3::from(ray.direction).normalize())
}

fn nearest_to_rays(sightings: &[Sighting<'_>]) -> Result<Vector3<f64>, SpaceFailure> {
    let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
    for sighting in sightings {
        let direction = direction(sighting)?;
        let across = Matrix3::identity() - direction * direction.transpose();
        normal += across;
        right += across * vector(sighting.camera.pose.centre);
    }
    normal.cholesky().map(|root| root.solve(&right)).ok_or(SpaceFailure::Unsettled)
}

fn equations(sightings: &[Sighting<'_>], at: &Vector3<f64>) -> Option<Equations<3>> {
    let mut sum = Equations::none();
    for sighting in sightings {
        let (residual, weight, by_point, _) = weighed(sighting, at)?;
        sum.add(&residual, &weight, &by_point);
    }
    Some(sum)
}

type Weighed = (Vector2<f64>, Matrix2<f64>, SMatrix<f64, 2, 3>, SMatrix<f64, 2, 6>);

/// Residual, weight and slopes by point and by pose of a mark; `None` behind the camera.
pub(super) fn weighed(sighting: &Sighting<'_>, at: &Vector3<f64>) -> Option<Weighed> {
    let Sighting { camera, seen, cov } = sighting;
    let expected = camera.image_of(point(*at))?;
    let (by_point, by_pose) = stored_by_point_and_pose(&camera.lens, &camera.pose, at)?;
    let weight = Matrix2::new(cov.xx, cov.xy, cov.xy, cov.yy).try_inverse()?;
    Some((Vector2::new(seen.x - expected.x, seen.y - expected.y), weight, by_point, by_pose))
}

/// How far the second mark lies from the first mark's line of sight as the second camera sees it, ideal px of the second camera;
/// positive below a line that runs to the right.
///
/// # Errors
/// [`SpaceFailure::Lens`] for a mark outside its lens' field, [`SpaceFailure::TooFewCameras`] where both stand in one place.
pub fn epipolar_px(first: &Sighting<'_>, second: &Sighting<'_>) -> Result<f64, SpaceFailure> {
    let turn = second.camera.pose.turn();
    let base = turn * (vector(first.camera.pose.centre) - vector(second.camera.pose.centre));
    let line = base.cross(&(turn * direction(first)?));
    if base.norm() < 1e-6 {
        return Err(SpaceFailure::TooFewCameras { n: 1 });
    }
    let lens = &second.camera.lens;
    let ideal = lens.undistort(second.seen).map_err(|why| SpaceFailure::Lens(Box::new(why)))?;
    let (x, y) = lens.normalised(ideal);
    let slope = (line.x / lens.fx_px).hypot(line.y / lens.fy_px);
    let away = (line.x * x + line.y * y + line.z) / slope;
    Ok(if line.y < 0.0 { -away } else { away })
}
