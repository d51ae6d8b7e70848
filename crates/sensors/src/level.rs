//! Accelerations in axes that stand still, from those that pitch with a body: gravity and the turn of the axes taken out.

use crate::{Channel, SensorsError};
use filmgauge_quantities::STANDARD_GRAVITY_M_S2;

/// What the sensors of one place read, all on one time base: m/s², forward and up; rad/s, nose up.
#[derive(Debug, Clone, Copy)]
pub struct PitchingAxes<'a> {
    /// Specific force forward, its zero taken out at rest.
    pub forward: &'a Channel,
    /// Specific force upward, its zero (and with it gravity) taken out at rest; taken as that of a body that does not move up or down
    /// where there is none.
    pub upright: Option<&'a Channel>,
    /// Pitch rate, its zero taken out.
    pub pitch_rate: &'a Channel,
    /// Pitch at rest, rad, nose up; 0 for a level body.
    pub rest_rad: f64,
}

/// Inertial acceleration along the path: aX = fx cos θ − fz sin θ, with θ the integral of the pitch rate from `from_s` on.
///
/// Sensed is fx = aX cos θ + (aZ + g) sin θ and fz = −aX sin θ + (aZ + g) cos θ (rigid-body mechanics); at rest aX = aZ = 0 and the zeros
/// have taken out g sin θ₀ and g cos θ₀. Without an upright sensor aZ counts as 0: aX = (fx − g sin θ) / cos θ.
///
/// # Errors
/// [`SensorsError::Settings`] for unusable channels, other units, other time bases, and a pitch beyond 1.4 rad.
pub fn level(axes: &PitchingAxes<'_>, from_s: f64) -> Result<Channel, SensorsError> {
    let forward = axes.forward;
    check(axes)?;
    let g = STANDARD_GRAVITY_M_S2;
    let (rest_sin, rest_cos) = axes.rest_rad.sin_cos();
    let mut angle_rad = axes.rest_rad;
    let mut values = Vec::with_capacity(forward.values.len());
    for index in 0..forward.values.len() {
        if index > 0 && forward.time_s(index) > from_s {
            let rate = |at: usize| axes.pitch_rate.values[at];
            angle_rad += 0.5 * (rate(index - 1) + rate(index)) * forward.step_s;
        }
        if angle_rad.abs() > 1.4 {
            return Err(SensorsError::settings(format!(
                "the pitch by \"{}\" goes beyond 1.4 rad at {:.3} s; check its zero and its unit",
                axes.pitch_rate.code,
                forward.time_s(index)
            )));
        }
        let (sin, cos) = angle_rad.sin_cos();
        let fx = forward.values[index] + g * rest_sin;
        values.push(match axes.upright {
            Some(upright) => fx * cos - (upright.values[index] + g * rest_cos) * sin,
            None => (fx - g * sin) / cos,
        });
    }
    let codes = axes.upright.map_or(String::new(), |upright| format!(" and {}", upright.code));
    Ok(forward
        .stepped(values, format!("gravity and turning axes taken out by {}{codes}", axes.pitch_rate.code)))
}

fn check(axes: &PitchingAxes<'_>) -> Result<(), SensorsError> {
    let forward = axes.forward;
    let others = [Some((axes.pitch_rate, "rad/s")), axes.upright.map(|upright| (upright, "m/s2"))];
    for (channel, unit) in std::iter::once((forward, "m/s2")).chain(others.into_iter().flatten()) {
        channel.check()?;
        if channel.unit != unit {
            let problem = format!("is in \"{}\", {unit} is needed", channel.unit);
            return Err(SensorsError::Unit { code: channel.code.clone(), problem });
        }
        let slack_s = 1e-6 * forward.step_s;
        let alike = channel.values.len() == forward.values.len()
            && (channel.start_s - forward.start_s).abs() < slack_s
            && (channel.end_s() - forward.end_s()).abs() < slack_s;
        if !alike {
            return Err(SensorsError::settings(format!(
                "channel \"{}\" is not on the time base of \"{}\"; resample it first",
                channel.code, forward.code
            )));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::tests::channel;

    /// Sensed specific force at 5 degrees nose up, in g, computed from the stated formula; the body turns there evenly within 0.1 s.
    #[test]
    fn what_a_pitched_sensor_reads_becomes_what_the_body_does() {
        let g = STANDARD_GRAVITY_M_S2;
        let record = |unit: &str, value: f64| channel(unit, 0.0, 0.001, vec![value; 101]);
        let rate = record("rad/s", 5.0_f64.to_radians() / 0.1);
        for (ax, fx, fz) in
            [(0.0, 0.087_156, 0.996_195), (-15.0, -14.855_765, 2.303_531), (-15.0, -14.681_453, 4.295_920)]
        {
            let (forward, upright) = (record("m/s2", fx * g), record("m/s2", (fz - 1.0) * g));
            let axes =
                PitchingAxes { forward: &forward, upright: Some(&upright), pitch_rate: &rate, rest_rad: 0.0 };
            let found = level(&axes, 0.0).unwrap();
            assert!((found.values[100] / g - ax).abs() < 2e-6, "{ax}: {}", found.values[100] / g);
            assert_eq!(found.steps.len(), 1);
        }
        let forward = record("m/s2", -14.855_765 * g);
        let alone = PitchingAxes { forward: &forward, upright: None, pitch_rate: &rate, rest_rad: 0.0 };
        assert!((level(&alone, 0.0).unwrap().values[100] / g + 15.0).abs() < 2e-6);
    }

    #[test]
    fn a_body_that_rests_on_a_slope_does_not_move() {
        let record = |unit: &str| channel(unit, 0.0, 0.001, vec![0.0; 50]);
        let (forward, upright, rate) = (record("m/s2"), record("m/s2"), record("rad/s"));
        let axes =
            PitchingAxes { forward: &forward, upright: Some(&upright), pitch_rate: &rate, rest_rad: 0.1 };
        assert!(level(&axes, 0.0).unwrap().values.iter().all(|a| a.abs() < 1e-12));
    }

    #[test]
    fn unusable_sets_are_refused() {
        let record = |unit: &str, n: usize, value: f64| channel(unit, 0.0, 0.001, vec![value; n]);
        let forward = record("m/s2", 50, 0.0);
        let [short, degrees, fast] = [("rad/s", 49, 0.0), ("deg/s", 50, 0.0), ("rad/s", 50, 100.0)]
            .map(|(unit, n, value)| record(unit, n, value));
        let of = |pitch_rate| {
            level(&PitchingAxes { forward: &forward, upright: None, pitch_rate, rest_rad: 0.0 }, 0.0)
        };
        assert!(of(&short).unwrap_err().to_string().contains("time base"));
        assert!(of(&degrees).unwrap_err().to_string().contains("rad/s"));
        assert!(of(&fast).unwrap_err().to_string().contains("1.4 rad"));
    }
}
