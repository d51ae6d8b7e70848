//! Motion of any point of a body (c.g., target, sensor) from the body's smooth place and angle, with uncertainty.
//!
//! With the lever r = (rx, rz) turned into the plane, rate w and angular acceleration w': velocity gains w (-rz, rx),
//! acceleration gains w' (-rz, rx) - w² (rx, rz). Uncertainties by JCGM 100, 5.1.2, with x, z and angle taken as
//! uncorrelated, which holds about the targets' mean place for marks of equal noise.

use crate::BodyMotion;
use filmgauge_quantities::PlanePoint;

/// Motion of a point at one instant; every array is (along the path, across it).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PointMotion {
    /// Place in the plane.
    pub place: PlanePoint,
    /// Velocity, m/s.
    pub velocity_m_s: [f64; 2],
    /// Acceleration in the plane's axes, m/s².
    pub acceleration_m_s2: [f64; 2],
    /// Standard uncertainty of the place, m.
    pub place_u_m: [f64; 2],
    /// Standard uncertainty of the velocity, m/s.
    pub velocity_u_m_s: [f64; 2],
    /// Standard uncertainty of the acceleration, m/s².
    pub acceleration_u_m_s2: [f64; 2],
    /// The body's angle from x towards z, its rate and angular acceleration; `None` for a single target.
    pub angle: Option<AngularMotion>,
}

/// Angle, rate and angular acceleration of a body with their standard uncertainties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AngularMotion {
    /// rad, rad/s, rad/s².
    pub value: [f64; 3],
    /// Standard uncertainties, same units.
    pub u: [f64; 3],
}

/// Motion of the body point `lever`, given in body axes from the layout's origin with the body level, at an instant.
/// `None` outside the marked time, or for a lever other than zero on a body whose angle is not known.
#[must_use]
pub fn body_point(motion: &BodyMotion, lever: PlanePoint, time_s: f64) -> Option<PointMotion> {
    let x = motion.x.at(time_s)?;
    let z = motion.z.at(time_s)?;
    let Some(curve) = &motion.angle else {
        let at_origin = lever.x_m == 0.0 && lever.z_m == 0.0;
        return at_origin.then(|| combined([&x, &z], None, lever));
    };
    let angle = curve.at(time_s)?;
    Some(combined([&x, &z], Some(&angle), lever.turned(angle.0[0])))
}

/// What the point's acceleration has over the body origin's: w' (-rz, rx) - w² (rx, rz), the lever turned into the
/// plane, rate in rad/s and angular acceleration in rad/s².
#[must_use]
pub fn lever_acceleration(lever: PlanePoint, rate: f64, angular_acceleration: f64) -> [f64; 2] {
    [
        -angular_acceleration * lever.z_m - rate * rate * lever.x_m,
        angular_acceleration * lever.x_m - rate * rate * lever.z_m,
    ]
}

/// What an accelerometer with axes x forward and z up on a body with nose-up `angle_rad` senses for an acceleration in
/// the plane's axes: acceleration less gravity's, turned into body axes; same unit as `gravity`.
#[must_use]
pub fn specific_force(acceleration: [f64; 2], angle_rad: f64, gravity: f64) -> [f64; 2] {
    let (sin, cos) = angle_rad.sin_cos();
    let up = acceleration[1] + gravity;
    [acceleration[0] * cos + up * sin, up * cos - acceleration[0] * sin]
}

type State = ([f64; 4], [[f64; 4]; 4]);

/// `lever` is already turned into the plane.
fn combined(origin: [&State; 2], angle: Option<&State>, lever: PlanePoint) -> PointMotion {
    let level: State = ([0.0; 4], [[0.0; 4]; 4]);
    let (turn, turn_cov) = angle.unwrap_or(&level);
    let (rate, spin) = (turn[1], turn[2]);
    // Per axis: the lever component that a turn swings in, and the one it swings out of.
    let arms = [(-lever.z_m, lever.x_m), (lever.x_m, lever.z_m)];
    let gained = lever_acceleration(lever, rate, spin);
    let value = |axis: usize, order: usize| origin[axis].0[order];
    let u = |axis: usize, order: usize| {
        let (swing, own) = arms[axis];
        // Slopes of place, velocity and acceleration by angle, rate and angular acceleration.
        let slopes = match order {
            0 => [swing, 0.0, 0.0],
            1 => [-rate * own, swing, 0.0],
            _ => [-spin * own - rate * rate * swing, -2.0 * rate * own, swing],
        };
        let by_angle: f64 =
            (0..3).flat_map(|i| (0..3).map(move |j| slopes[i] * slopes[j] * turn_cov[i][j])).sum();
        (origin[axis].1[order][order] + by_angle).max(0.0).sqrt()
    };
    let u_of = |order: usize| [u(0, order), u(1, order)];
    PointMotion {
        place: PlanePoint::new(value(0, 0), value(1, 0)) + lever,
        velocity_m_s: [value(0, 1) - rate * lever.z_m, value(1, 1) + rate * lever.x_m],
        acceleration_m_s2: [value(0, 2) + gained[0], value(1, 2) + gained[1]],
        place_u_m: u_of(0),
        velocity_u_m_s: u_of(1),
        acceleration_u_m_s2: u_of(2),
        angle: angle.map(|(state, cov)| AngularMotion {
            value: [state[0], state[1], state[2]],
            u: [0, 1, 2].map(|k| cov[k][k].max(0.0).sqrt()),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // All values here are computed from the stated formulas.

    #[test]
    fn lever_of_a_pitching_body() {
        let lever = PlanePoint::new(-0.5, -0.3);
        let gained = lever_acceleration(lever, 60.0_f64.to_radians(), 900.0_f64.to_radians());
        assert!((gained[0] / 9.806_65 - 0.536_442).abs() < 5e-7, "{gained:?}");
        assert!((gained[1] / 9.806_65 + 0.767_336).abs() < 5e-7, "{gained:?}");
        let turned = PlanePoint::new(-1.2, 0.25).turned(5.0_f64.to_radians());
        assert!((turned.x_m + 1.217_223).abs() < 5e-7 && (turned.z_m - 0.144_462).abs() < 5e-7);
    }

    #[test]
    fn specific_force_of_a_pitched_sensor() {
        let angle_rad = 5.0_f64.to_radians();
        for (acceleration, sensed) in [
            ([0.0, 0.0], [0.087_156, 0.996_195]),
            ([-15.0, 0.0], [-14.855_765, 2.303_531]),
            ([-15.0, 2.0], [-14.681_453, 4.295_920]),
        ] {
            let found = specific_force(acceleration, angle_rad, 1.0);
            assert!((found[0] - sensed[0]).abs() < 1e-6 && (found[1] - sensed[1]).abs() < 1e-6, "{found:?}");
        }
    }

    #[test]
    fn slopes_agree_with_differences() {
        let origin: State = ([1.0, 2.0, 3.0, 0.0], [[0.0; 4]; 4]);
        let lever = PlanePoint::new(0.7, -0.4);
        let at = |state: [f64; 4], cov: [[f64; 4]; 4]| {
            combined([&origin, &origin], Some(&(state, cov)), lever.turned(state[0]))
        };
        let centre = [0.1, 2.0, 30.0, 0.0];
        for k in 0..3 {
            let (h, mut cov, mut moved) = (1e-6, [[0.0; 4]; 4], centre);
            cov[k][k] = 1.0;
            moved[k] += h;
            let (base, there) = (at(centre, cov), at(moved, cov));
            for axis in 0..2 {
                let slope = (there.acceleration_m_s2[axis] - base.acceleration_m_s2[axis]) / h;
                assert!((slope.abs() - base.acceleration_u_m_s2[axis]).abs() < 1e-3, "{k} {axis}");
                let slope = (there.velocity_m_s[axis] - base.velocity_m_s[axis]) / h;
                assert!((slope.abs() - base.velocity_u_m_s[axis]).abs() < 1e-4, "{k} {axis}");
            }
        }
    }
}
