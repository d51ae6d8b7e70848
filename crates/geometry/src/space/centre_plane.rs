//! Cameras on both sides of a vehicle: what its centre plane does, by the mean of targets on its left and right.

use super::SpaceFailure;
use filmgauge_quantities::{Length, PlaneCov, PlanePoint, Uncertain};

/// A target on one side, as that side's camera measured it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideMark {
    /// Where it is in the side view, x along the path, z up.
    pub at: PlanePoint,
    /// Its covariance.
    pub cov: PlaneCov,
    /// How far to the left of the centre plane it stands; negative on the right.
    pub y: Uncertain<Length>,
}

/// The point of the centre plane between two targets, and how the vehicle is turned between them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CentrePlane {
    /// The point, in the same side view.
    pub at: PlanePoint,
    /// Its covariance, with the doubt of where the targets stand.
    pub cov: PlaneCov,
    /// x of the left target less x of the right one over their distance across, rad for small turns: less by the yaw (positive
    /// with the nose to the left) than when the vehicle stands straight.
    pub x_slope: f64,
    /// z of the left target less z of the right one over their distance across: more by the roll (positive with the left side
    /// up) than when the vehicle stands level.
    pub z_slope: f64,
    /// Standard uncertainties of both slopes.
    pub slope_u: [f64; 2],
}

/// The mean of a left and a right target, weighed by their distances from the centre plane, so that neither yaw nor roll shifts it.
///
/// With equal distances it is the plain mean. Two cameras at different scales show at once: their difference is in the slopes.
///
/// # Errors
/// [`SpaceFailure::Input`] where the targets do not stand on different sides, or a number is none.
pub fn centre_plane(left: &SideMark, right: &SideMark) -> Result<CentrePlane, SpaceFailure> {
    let (l, r) = (left.y.value.as_m(), right.y.value.as_m());
    let numbers = [left.at.x_m, left.at.z_m, right.at.x_m, right.at.z_m, l, r];
    if !(l > 0.0 && r < 0.0 && numbers.iter().all(|value| value.is_finite())) {
        let what =
            format!("targets {l} m and {r} m to the left do not stand on either side of the centre plane");
        return Err(SpaceFailure::Input { what });
    }
    let across = l - r;
    let (by_left, by_right) = (-r / across, l / across);
    let x_slope = (left.at.x_m - right.at.x_m) / across;
    let z_slope = (left.at.z_m - right.at.z_m) / across;
    // A target that stands further out than stated takes weight from the slope.
    let doubt = (by_left * left.y.u.as_m()).powi(2) + (by_right * right.y.u.as_m()).powi(2);
    let mean = |a: f64, b: f64, slopes: f64| by_left * by_left * a + by_right * by_right * b + slopes * doubt;
    let across_u2 = left.y.u.as_m().powi(2) + right.y.u.as_m().powi(2);
    let slope_u = |a: f64, b: f64, slope: f64| (a + b + slope * slope * across_u2).sqrt() / across;
    Ok(CentrePlane {
        at: PlanePoint::new(
            by_left * left.at.x_m + by_right * right.at.x_m,
            by_left * left.at.z_m + by_right * right.at.z_m,
        ),
        cov: PlaneCov {
            xx: mean(left.cov.xx, right.cov.xx, x_slope * x_slope),
            xz: mean(left.cov.xz, right.cov.xz, x_slope * z_slope),
            zz: mean(left.cov.zz, right.cov.zz, z_slope * z_slope),
        },
        x_slope,
        z_slope,
        slope_u: [slope_u(left.cov.xx, right.cov.xx, x_slope), slope_u(left.cov.zz, right.cov.zz, z_slope)],
    })
}
