//! The camera's own motion, from targets fixed to the ground, and its removal from a frame's marks.

use crate::GeometryError;
use filmgauge_quantities::PixelPoint;

/// How one frame's picture is displaced against the reference: a turn about `pivot` and a shift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CameraMotion {
    /// Mean place of the fixed targets in the reference, ideal px.
    pub pivot: PixelPoint,
    /// Mean shift of the fixed targets, px.
    pub shift_px: (f64, f64),
    /// Turn of the picture, from x towards y, rad.
    pub roll_rad: f64,
    /// Variance of each component of the shift, px², for fixed targets read with `u_px`.
    pub shift_var_px2: f64,
    /// Variance of the roll, rad².
    pub roll_var: f64,
}

/// The motion of the picture that moves the fixed targets from `reference` to `now`, both in ideal pixels and in the
/// same order; `u_px` is the standard uncertainty of reading one of them along one axis. Least squares over shift and
/// roll; variances u²/n and u²/Σr² (computed from the stated formula).
///
/// # Errors
/// [`GeometryError::FixedTargets`] for fewer than two targets, lists of different length, or targets all in one place.
pub fn camera_motion(
    reference: &[PixelPoint],
    now: &[PixelPoint],
    u_px: f64,
) -> Result<CameraMotion, GeometryError> {
    let fault = |why: &str| GeometryError::FixedTargets { why: why.to_owned() };
    if reference.len() != now.len() || reference.len() < 2 {
        return Err(fault("fewer than two fixed targets are marked in both frames"));
    }
    let (pivot, there) = (mean(reference), mean(now));
    let (mut cross, mut along, mut spread) = (0.0, 0.0, 0.0);
    for (a, b) in reference.iter().zip(now) {
        let (a, b) = (a.moved(-pivot.x, -pivot.y), b.moved(-there.x, -there.y));
        cross += a.x * b.y - a.y * b.x;
        along += a.x * b.x + a.y * b.y;
        spread += a.x * a.x + a.y * a.y;
    }
    if !(spread.is_finite() && spread > 1.0) {
        return Err(fault("the fixed targets stand in one place"));
    }
    #[expect(clippy::cast_precision_loss, reason = "a handful of targets")]
    let n = now.len() as f64;
    Ok(CameraMotion {
        pivot,
        shift_px: (there.x - pivot.x, there.y - pivot.y),
        roll_rad: cross.atan2(along),
        shift_var_px2: u_px * u_px / n,
        roll_var: u_px * u_px / spread,
    })
}

impl CameraMotion {
    /// Where a point read in this frame would be without the camera's motion.
    #[must_use]
    pub fn removed_from(&self, point: PixelPoint) -> PixelPoint {
        let x = point.x - self.pivot.x - self.shift_px.0;
        let y = point.y - self.pivot.y - self.shift_px.1;
        let (sin, cos) = self.roll_rad.sin_cos();
        self.pivot.moved(x * cos + y * sin, y * cos - x * sin)
    }

    /// Variance that the removal adds to each axis of a point, px²: u² (1/n + r²/Σr²), with r the distance to the pivot.
    #[must_use]
    pub fn added_variance_px2(&self, point: PixelPoint) -> f64 {
        self.shift_var_px2 + self.roll_var * point.distance(self.pivot).powi(2)
    }
}

#[expect(clippy::cast_precision_loss, reason = "a handful of targets")]
fn mean(points: &[PixelPoint]) -> PixelPoint {
    let n = points.len() as f64;
    let sum = points.iter().fold(PixelPoint::default(), |sum, point| sum.moved(point.x, point.y));
    PixelPoint::new(sum.x / n, sum.y / n)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shift_and_roll_of_two_fixed_targets() {
        // Computed: equal shifts subtract; (3, -2) and (3, 2) px at 1000 px spacing are a roll of 0.2292°.
        let reference = [PixelPoint::new(100.0, 50.0), PixelPoint::new(1100.0, 50.0)];
        let shifted = reference.map(|point| point.moved(3.0, -2.0));
        let motion = camera_motion(&reference, &shifted, 0.1).unwrap();
        assert!(motion.roll_rad.abs() < 1e-12);
        assert!(
            motion.removed_from(PixelPoint::new(503.0, 298.0)).distance(PixelPoint::new(500.0, 300.0)) < 1e-9
        );
        let rolled = [reference[0].moved(3.0, -2.0), reference[1].moved(3.0, 2.0)];
        let motion = camera_motion(&reference, &rolled, 0.1).unwrap();
        assert!((motion.roll_rad.to_degrees() - 0.2292).abs() < 5e-5);
        assert!((motion.added_variance_px2(reference[0]) - 0.01).abs() < 1e-12);
    }

    #[test]
    fn too_few_or_coincident_targets_are_refused() {
        let place = PixelPoint::new(1.0, 1.0);
        assert!(camera_motion(&[place], &[place], 0.1).is_err());
        assert!(camera_motion(&[place; 3], &[place; 3], 0.1).is_err());
    }
}
