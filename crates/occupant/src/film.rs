//! Flail-space figures from film alone: displacement and speed of the vehicle, no accelerometer.

use crate::failure::all_finite;
use crate::{Axis, FlailOptions, FlailSpace, OccupantFailure};

/// Flail-space figures along the path from the vehicle's motion.
///
/// `displacement_m` counts from contact, along the path; the occupant goes on at `contact_speed_m_s`. It
/// strikes when contact speed times time less displacement is the free distance; its velocity is then the
/// contact speed less the vehicle's. Values between samples lie on straight lines. Samples before contact
/// are left out. Ridedown is the loss of speed over the window, divided by the window.
///
/// # Errors
/// [`OccupantFailure`] for settings, unequal lengths, values that are not finite, times that do not run
/// forwards, or fewer than two samples from contact on.
pub fn flail_from_motion(
    contact_s: f64,
    contact_speed_m_s: f64,
    times_s: &[f64],
    displacement_m: &[f64],
    speed_m_s: &[f64],
    options: &FlailOptions,
) -> Result<FlailSpace, OccupantFailure> {
    options.check()?;
    all_finite("contact time and speed", &[contact_s, contact_speed_m_s])?;
    check_motion(times_s, displacement_m, speed_m_s)?;
    let after = times_s.partition_point(|&time_s| time_s < contact_s);
    let times_s = &times_s[after..];
    if times_s.len() < 2 {
        return Err(OccupantFailure::TooShort { what: "motion from film", n_samples: times_s.len() });
    }
    let travel_m: Vec<f64> = times_s
        .iter()
        .zip(&displacement_m[after..])
        .map(|(time_s, displacement_m)| contact_speed_m_s * (time_s - contact_s) - displacement_m)
        .collect();
    let motion = Motion { times_s, speed_m_s: &speed_m_s[after..] };
    let impact_time_s = crossing(times_s, &travel_m, options.forward_m);
    let at_s = impact_time_s.unwrap_or(times_s[times_s.len() - 1]);
    Ok(FlailSpace {
        impact_time_s,
        impact_velocity_x_m_s: contact_speed_m_s - motion.speed_at(at_s),
        impact_velocity_y_m_s: None,
        ridedown_x_m_s2: impact_time_s.and_then(|from_s| motion.ridedown(from_s, options.ridedown_window_s)),
        ridedown_y_m_s2: None,
        reached: impact_time_s.is_some(),
        limiting: Axis::X,
    })
}

fn check_motion(times_s: &[f64], displacement_m: &[f64], speed_m_s: &[f64]) -> Result<(), OccupantFailure> {
    for (what, samples) in [("times", times_s), ("displacement", displacement_m), ("speed", speed_m_s)] {
        if samples.len() != times_s.len() {
            return Err(OccupantFailure::Lengths { what, found: samples.len(), expected: times_s.len() });
        }
        all_finite(what, samples)?;
    }
    match times_s.windows(2).position(|pair| pair[1] <= pair[0]) {
        Some(before) => Err(OccupantFailure::Sample { what: "times", index: before + 1 }),
        None => Ok(()),
    }
}

/// First time at which the line through the samples reaches `level`.
fn crossing(times_s: &[f64], values: &[f64], level: f64) -> Option<f64> {
    let sample = values.iter().position(|&value| value >= level)?;
    let before = sample.checked_sub(1)?;
    let share = (level - values[before]) / (values[sample] - values[before]);
    Some(times_s[before] + share * (times_s[sample] - times_s[before]))
}

struct Motion<'a> {
    times_s: &'a [f64],
    speed_m_s: &'a [f64],
}

impl Motion<'_> {
    /// Speed on the line between two samples, at a time within the record.
    fn speed_at(&self, time_s: f64) -> f64 {
        let after =
            self.times_s.partition_point(|&sample_s| sample_s < time_s).clamp(1, self.times_s.len() - 1);
        let (t0, t1) = (self.times_s[after - 1], self.times_s[after]);
        let (v0, v1) = (self.speed_m_s[after - 1], self.speed_m_s[after]);
        v0 + (v1 - v0) * (time_s - t0) / (t1 - t0)
    }

    fn ridedown(&self, from_s: f64, window_s: f64) -> Option<f64> {
        let last_start_s = self.times_s[self.times_s.len() - 1] - window_s;
        let starts = self.times_s.iter().flat_map(|&time_s| [time_s, time_s - window_s]);
        std::iter::once(from_s)
            .chain(starts)
            .filter(|&start_s| start_s >= from_s && start_s <= last_start_s)
            .map(|start_s| (self.speed_at(start_s) - self.speed_at(start_s + window_s)) / window_s)
            .max_by(|a, b| a.abs().total_cmp(&b.abs()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_quantities::STANDARD_GRAVITY_M_S2;

    const CONTACT_SPEED_M_S: f64 = 27.7778;
    const LEVEL_M_S2: f64 = 10.0 * STANDARD_GRAVITY_M_S2;

    /// Constant 10 g from 27.7778 m/s, a sample every `step_s`; speed by central difference of position.
    fn film(step_s: f64, scale: f64, speed_share: f64) -> FlailSpace {
        let position =
            |time_s: f64| scale * (CONTACT_SPEED_M_S * time_s - 0.5 * LEVEL_M_S2 * time_s * time_s);
        let times_s: Vec<f64> =
            (0..200).map(|i| f64::from(i) * step_s).filter(|&time_s| time_s < 0.19).collect();
        let displacement: Vec<f64> = times_s.iter().map(|&t| position(t)).collect();
        let speed: Vec<f64> =
            times_s.iter().map(|&t| (position(t + step_s) - position(t - step_s)) / (2.0 * step_s)).collect();
        let contact_speed = CONTACT_SPEED_M_S * scale * speed_share;
        flail_from_motion(0.0, contact_speed, &times_s, &displacement, &speed, &FlailOptions::default())
            .unwrap()
    }

    #[test]
    fn film_alone_gives_the_computed_figures() {
        // Constant 10 g with straight lines between frames, computed from the stated model.
        for (step_s, t_star, oiv) in [(0.001, 0.110_618, 10.847_93), (0.002, 0.110_615, 10.847_65)] {
            let found = film(step_s, 1.0, 1.0);
            assert!((found.impact_time_s.unwrap() - t_star).abs() < 6e-7, "{found:?}");
            assert!((found.impact_velocity_x_m_s - oiv).abs() < 2e-5, "{found:?}");
            assert!((found.ridedown_x_m_s2.unwrap() - LEVEL_M_S2).abs() < 1e-6);
        }
    }

    #[test]
    fn figures_answer_scale_and_speed_errors_as_computed() {
        // 1 % of scale moves the velocity by +0.499 %; contact speed alone 0.5 and 1 % high moves the time by
        // −1.27 and −2.53 % and the velocity hardly (computed from the stated model).
        let sound = film(0.002, 1.0, 1.0);
        let velocity = |found: FlailSpace| found.impact_velocity_x_m_s;
        let time = |found: FlailSpace| found.impact_time_s.unwrap();
        assert!((velocity(film(0.002, 1.01, 1.0)) / velocity(sound) - 1.004_99).abs() < 3e-5);
        assert!((time(film(0.002, 1.0, 1.005)) / time(sound) - 1.0 + 0.012_7).abs() < 1e-4);
        assert!((time(film(0.002, 1.0, 1.01)) / time(sound) - 1.0 + 0.025_3).abs() < 1e-4);
        assert!((velocity(film(0.002, 1.0, 1.005)) - 10.848_92).abs() < 6e-4);
        assert!((velocity(film(0.002, 1.0, 1.01)) - 10.851_59).abs() < 6e-4);
    }

    #[test]
    fn unusable_motion_is_answered_with_a_reason() {
        let run =
            |t: &[f64], s: &[f64], v: &[f64]| flail_from_motion(0.0, 10.0, t, s, v, &FlailOptions::default());
        assert!(matches!(run(&[0.0], &[0.0], &[1.0]), Err(OccupantFailure::TooShort { .. })));
        assert!(matches!(
            run(&[-2.0, -1.0], &[0.0; 2], &[1.0; 2]),
            Err(OccupantFailure::TooShort { n_samples: 0, .. })
        ));
        assert!(matches!(run(&[0.0, 1.0], &[0.0], &[1.0; 2]), Err(OccupantFailure::Lengths { .. })));
        assert!(matches!(
            run(&[0.0, 0.0], &[0.0; 2], &[1.0; 2]),
            Err(OccupantFailure::Sample { index: 1, .. })
        ));
        assert!(matches!(run(&[0.0, f64::NAN], &[0.0; 2], &[1.0; 2]), Err(OccupantFailure::Sample { .. })));
        let still = run(&[0.0, 0.01, 0.02], &[0.0, 0.1, 0.2], &[10.0; 3]).unwrap();
        assert!(!still.reached && still.impact_velocity_x_m_s.abs() < 1e-12);
    }
}
