//! Place and angle of a rigid body in each frame, from the marks of its targets, with covariance.
//!
//! Closed form for the start (Kabsch 1976, Acta Cryst. A32:922, in the plane), then weighted Gauss-Newton, because
//! the closed form is exact for equal round covariances only.

use crate::matrix::positive_inverse;
use crate::{BodyTracks, Layout, MotionFailure, PlaneMark};
use filmgauge_quantities::PlanePoint;

/// Gauss-Newton steps; two or three suffice.
const MAX_STEPS: usize = 20;

/// Settings of [`poses`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PoseOptions {
    /// Standard uncertainty per axis added to every mark for what its own covariance does not know, such as a layout
    /// that is not perfectly known, m; 0 or more.
    pub floor_m: f64,
}

impl Default for PoseOptions {
    fn default() -> Self {
        Self { floor_m: 0.0 }
    }
}

impl PoseOptions {
    /// Checks every setting's range.
    ///
    /// # Errors
    /// [`MotionFailure::Setting`] for a floor that is negative or not a number.
    pub fn check(&self) -> Result<(), MotionFailure> {
        if self.floor_m.is_finite() && self.floor_m >= 0.0 {
            return Ok(());
        }
        Err(MotionFailure::Setting { setting: "floor_m", value: self.floor_m, rule: "it must be 0 or more" })
    }
}

/// Pose of a body's layout origin in one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pose {
    /// Place of the origin along the path, m.
    pub x_m: f64,
    /// Place of the origin across the path, m.
    pub z_m: f64,
    /// Angle from x towards z, rad; `None` for a body with a single target.
    pub angle_rad: Option<f64>,
    /// Covariance in the order x, z, angle; angle's row and column are 0 where there is no angle.
    pub cov: [[f64; 3]; 3],
    /// Residual sum of squares over the marks' covariances.
    pub chi2: f64,
    /// Degrees of freedom of `chi2`.
    pub dof: u32,
    /// Targets used.
    pub n_targets: u32,
}

impl Pose {
    /// Where a body point lies in the plane; angle 0 is taken where there is none.
    #[must_use]
    pub fn plane_from_body(&self, place: PlanePoint) -> PlanePoint {
        PlanePoint::new(self.x_m, self.z_m) + place.turned(self.angle_rad.unwrap_or(0.0))
    }
}

/// Poses of all frames. A frame has none when fewer than two targets of the layout are marked in it; only a body with
/// a single target gets along with one, and then has no angle.
///
/// # Errors
/// [`MotionFailure`] for settings out of range, faulty tracks, or a layout of another number of targets.
pub fn poses(
    tracks: &BodyTracks,
    layout: &Layout,
    options: &PoseOptions,
) -> Result<Vec<Option<Pose>>, MotionFailure> {
    options.check()?;
    tracks.check()?;
    let (found, expected) = (layout.places.len(), tracks.targets.len());
    if found != expected {
        return Err(MotionFailure::LengthsDiffer { what: "layout", found, expected });
    }
    let single = layout.n_places() == 1;
    let of_frame = |frame| {
        let pairs: Vec<(PlanePoint, PlaneMark)> = tracks
            .marks_in(frame)
            .filter_map(|(i, mark)| layout.places[i].map(|place| (place, floored(mark, options.floor_m))))
            .collect();
        if single { pairs.first().map(|(_, mark)| translation(mark)) } else { pose(&pairs) }
    };
    Ok((0..tracks.times_s.len()).map(of_frame).collect())
}

/// Turn and shift that carry the first points of the pairs onto the second ones, least squares, all pairs alike.
pub(crate) fn turn_and_shift(pairs: &[(PlanePoint, PlanePoint)]) -> (f64, PlanePoint) {
    #[expect(clippy::cast_precision_loss, reason = "a handful of targets")]
    let share = 1.0 / pairs.len().max(1) as f64;
    let mean = |points: &mut dyn Iterator<Item = PlanePoint>| {
        let sum = points.fold(PlanePoint::default(), |sum, point| sum + point);
        PlanePoint::new(sum.x_m * share, sum.z_m * share)
    };
    let from = mean(&mut pairs.iter().map(|pair| pair.0));
    let to = mean(&mut pairs.iter().map(|pair| pair.1));
    let (mut cross, mut along) = (0.0, 0.0);
    for &(a, b) in pairs {
        let (a, b) = (a - from, b - to);
        cross += a.x_m * b.z_m - a.z_m * b.x_m;
        along += a.x_m * b.x_m + a.z_m * b.z_m;
    }
    let angle_rad = cross.atan2(along);
    (angle_rad, to - from.turned(angle_rad))
}

fn floored(mark: PlaneMark, floor_m: f64) -> PlaneMark {
    let mut mark = mark;
    mark.cov.xx += floor_m * floor_m;
    mark.cov.zz += floor_m * floor_m;
    mark
}

fn translation(mark: &PlaneMark) -> Pose {
    let cov = [[mark.cov.xx, mark.cov.xz, 0.0], [mark.cov.xz, mark.cov.zz, 0.0], [0.0; 3]];
    let (x_m, z_m) = (mark.point.x_m, mark.point.z_m);
    Pose { x_m, z_m, angle_rad: None, cov, chi2: 0.0, dof: 0, n_targets: 1 }
}

fn pose(pairs: &[(PlanePoint, PlaneMark)]) -> Option<Pose> {
    let n_targets = u32::try_from(pairs.len()).ok().filter(|&n| n >= 2)?;
    let points: Vec<_> = pairs.iter().map(|(place, mark)| (*place, mark.point)).collect();
    let (mut angle_rad, mut shift) = turn_and_shift(&points);
    for _ in 0..MAX_STEPS {
        let (normal, right, chi2) = normal_equations(pairs, angle_rad, shift);
        let cov = positive_inverse(&normal)?;
        let step: [f64; 3] = std::array::from_fn(|i| (0..3).map(|j| cov[i][j] * right[j]).sum());
        if (0..3).all(|i| step[i] * step[i] <= 1e-16 * cov[i][i]) {
            let (x_m, z_m, dof) = (shift.x_m, shift.z_m, 2 * n_targets - 3);
            return Some(Pose { x_m, z_m, angle_rad: Some(angle_rad), cov, chi2, dof, n_targets });
        }
        shift = PlanePoint::new(shift.x_m + step[0], shift.z_m + step[1]);
        angle_rad += step[2];
    }
    None
}

/// Normal matrix and right side for x, z, angle, and the residual sum of squares.
fn normal_equations(
    pairs: &[(PlanePoint, PlaneMark)],
    angle_rad: f64,
    shift: PlanePoint,
) -> ([[f64; 3]; 3], [f64; 3], f64) {
    let (mut normal, mut right, mut chi2) = ([[0.0; 3]; 3], [0.0; 3], 0.0);
    for (place, mark) in pairs {
        let arm = place.turned(angle_rad);
        let residual = mark.point - (shift + arm);
        let residual = [residual.x_m, residual.z_m];
        let det = mark.cov.xx * mark.cov.zz - mark.cov.xz * mark.cov.xz;
        let weight = [[mark.cov.zz / det, -mark.cov.xz / det], [-mark.cov.xz / det, mark.cov.xx / det]];
        let slopes = [[1.0, 0.0, -arm.z_m], [0.0, 1.0, arm.x_m]];
        for (a, b) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
            chi2 += residual[a] * weight[a][b] * residual[b];
            for i in 0..3 {
                right[i] += slopes[a][i] * weight[a][b] * residual[b];
                for j in 0..3 {
                    normal[i][j] += slopes[a][i] * weight[a][b] * slopes[b][j];
                }
            }
        }
    }
    (normal, right, chi2)
}

#[cfg(test)]
mod tests;
