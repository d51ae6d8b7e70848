//! Integration of a channel by trapezoids: acceleration to speed, speed to displacement.

use crate::{Channel, SensorsError};

/// The running integral over time, from `initial` at the first sample, in the integrated unit.
///
/// m/s2 becomes m/s, m/s becomes m, rad/s2 becomes rad/s, rad/s becomes rad; any other unit is multiplied by s.
///
/// # Errors
/// [`SensorsError::Settings`] when the channel is not usable or the initial value is not finite.
pub fn integrate(channel: &Channel, initial: f64) -> Result<Channel, SensorsError> {
    channel.check()?;
    if !initial.is_finite() {
        return Err(SensorsError::settings(format!(
            "channel \"{}\": the initial value of an integral must be a finite number",
            channel.code
        )));
    }
    let mut sum = initial;
    let mut values = Vec::with_capacity(channel.values.len());
    values.push(sum);
    for pair in channel.values.windows(2) {
        sum += 0.5 * (pair[0] + pair[1]) * channel.step_s;
        values.push(sum);
    }
    let unit = integrated(&channel.unit);
    let mut integral = channel.stepped(values, format!("integrated by trapezoids from {initial} {unit}"));
    integral.unit = unit;
    Ok(integral)
}

fn integrated(unit: &str) -> String {
    match unit {
        "m/s2" => "m/s".to_owned(),
        "m/s" => "m".to_owned(),
        "rad/s2" => "rad/s".to_owned(),
        "rad/s" => "rad".to_owned(),
        "" => "s".to_owned(),
        other => format!("{other}*s"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::tests::channel;

    #[test]
    fn pulse_shapes_give_their_closed_form_speed_change() {
        // 20 g, 100 ms, computed from the closed forms: A T, 2 A T / pi, A T / 2 (haversine).
        let a = 20.0 * 9.80665;
        let phase = |i: u32| std::f64::consts::PI * f64::from(i) / 1000.0;
        let half_sine = (0..=1000).map(|i| a * phase(i).sin()).collect();
        let haversine = (0..=1000).map(|i| a * phase(i).sin().powi(2)).collect();
        for (values, delta_v, travel) in [
            (vec![a; 1001], 19.613_3, 0.980_665),
            (half_sine, 12.486_215, 0.624_311),
            (haversine, 9.806_65, 0.490_333),
        ] {
            let speed = integrate(&channel("m/s2", 0.0, 1e-4, values), 0.0).unwrap();
            let moved = integrate(&speed, 0.0).unwrap();
            assert!((speed.values[1000] - delta_v).abs() < 2e-5);
            assert!((moved.values[1000] - travel).abs() < 2e-6);
            assert_eq!((speed.unit.as_str(), moved.unit.as_str()), ("m/s", "m"));
        }
    }

    #[test]
    fn an_offset_grows_as_time_and_time_squared() {
        // 0.1 g over 0.2 s: 0.196 m/s and 19.6 mm, computed from b t and b t^2 / 2.
        let speed = integrate(&channel("m/s2", 0.0, 1e-4, vec![0.980_665; 2001]), 0.0).unwrap();
        let moved = integrate(&speed, 0.0).unwrap();
        assert!((speed.values[2000] - 0.196_133).abs() < 1e-9);
        assert!((moved.values[2000] - 0.019_613_3).abs() < 1e-9);
    }

    #[test]
    fn an_unusable_start_is_refused() {
        assert!(integrate(&channel("m/s2", 0.0, 1e-4, vec![1.0, 2.0]), f64::NAN).is_err());
        assert!(integrate(&channel("m/s2", 0.0, 1e-4, vec![1.0]), 0.0).is_err());
    }
}
