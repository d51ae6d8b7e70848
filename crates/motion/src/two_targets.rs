//! Pitch and c.g. from two targets in a picture, by hand: what a pose of many targets must agree with.

use filmgauge_quantities::{PixelPoint, PlanePoint};

/// Which way the vehicle faces in the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Facing {
    /// Nose to the right.
    Right,
    /// Nose to the left.
    Left,
}

/// Nose-up angle of the line from the rear to the front target, rad; rows count downwards. `None` where both are at one
/// place.
#[must_use]
pub fn two_target_angle(rear: PixelPoint, front: PixelPoint, facing: Facing) -> Option<f64> {
    let forward = if facing == Facing::Right { front.x - rear.x } else { rear.x - front.x };
    let up = rear.y - front.y;
    (forward != 0.0 || up != 0.0).then(|| up.atan2(forward))
}

/// Standard uncertainty of that angle for a target spacing and a reading uncertainty of each target, both in one unit:
/// √2 u / L, rad. `None` unless the spacing is greater than 0.
#[must_use]
pub fn two_target_angle_u(reading_u: f64, spacing: f64) -> Option<f64> {
    (spacing > 0.0).then(|| std::f64::consts::SQRT_2 * reading_u / spacing)
}

/// The c.g. from a target's place and the step from it to the c.g. (forward, up) with the body level.
#[must_use]
pub fn cg_from_target(target: PlanePoint, step: PlanePoint, nose_up_rad: f64) -> PlanePoint {
    target + step.turned(nose_up_rad)
}

#[cfg(test)]
mod tests {
    use super::*;

    // All values here are computed from the stated formulas.

    #[test]
    fn pitch_of_two_targets() {
        let before =
            two_target_angle(PixelPoint::new(300.0, 500.0), PixelPoint::new(800.0, 500.0), Facing::Right);
        let now =
            two_target_angle(PixelPoint::new(302.0, 520.0), PixelPoint::new(800.0, 480.0), Facing::Right);
        let angle = (now.unwrap() - before.unwrap()).to_degrees();
        assert!((angle - 4.592_212).abs() < 5e-7, "{angle}");
        // The mirrored picture of a vehicle that faces left says the same.
        let mirrored =
            two_target_angle(PixelPoint::new(-302.0, 520.0), PixelPoint::new(-800.0, 480.0), Facing::Left);
        assert!((mirrored.unwrap().to_degrees() - angle).abs() < 1e-12);
        assert!(
            two_target_angle(PixelPoint::new(1.0, 1.0), PixelPoint::new(1.0, 1.0), Facing::Left).is_none()
        );
    }

    #[test]
    fn uncertainty_of_the_pitch() {
        for (spacing_m, u_m, deg) in [(2.0, 2e-3, 0.0810), (1.5, 3e-3, 0.1621)] {
            let u = two_target_angle_u(u_m, spacing_m).unwrap().to_degrees();
            assert!((u - deg).abs() < 5e-5, "{u}");
        }
        assert!(two_target_angle_u(1e-3, 0.0).is_none());
    }

    #[test]
    fn the_step_to_the_cg_turns_with_the_body() {
        let (target, step) = (PlanePoint::new(3.0, 0.8), PlanePoint::new(-1.2, 0.25));
        let cg = cg_from_target(target, step, 5.0_f64.to_radians());
        let offset = cg - target;
        assert!((offset.x_m + 1.217_223).abs() < 5e-7 && (offset.z_m - 0.144_462).abs() < 6e-7);
        let missed = offset - step;
        assert!((missed.x_m.abs() - 0.0172).abs() < 5e-5 && (missed.z_m.abs() - 0.1055).abs() < 5e-5);
    }
}
