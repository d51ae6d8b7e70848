//! Values between samples, and a channel on another even time base.

use crate::{Channel, SensorsError};

/// Times nearer to the record's ends than this share of a step count as inside: rounding of the time base.
const END_SHARE: f64 = 1e-6;

/// How values between samples are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Interpolation {
    /// Straight line between two samples.
    Linear,
    /// The cubic through the four samples around; fewer samples, lower degree.
    #[default]
    Cubic,
}

/// The channel at `n_samples` times from `start_s`, `step_s` apart.
///
/// Nothing is filtered: before going to a coarser step, filter to a class that the new rate can hold.
///
/// # Errors
/// [`SensorsError::Settings`] when the new time base is not usable or reaches beyond the record.
pub fn resample(
    channel: &Channel,
    start_s: f64,
    step_s: f64,
    n_samples: usize,
    interpolation: Interpolation,
) -> Result<Channel, SensorsError> {
    channel.check()?;
    let mut resampled = channel
        .stepped(Vec::new(), format!("resampled to {n_samples} samples from {start_s} s, {step_s} s apart"));
    resampled.start_s = start_s;
    resampled.step_s = step_s;
    for index in 0..n_samples {
        let time_s = resampled.time_s(index);
        let value = value_at(channel, time_s, interpolation).ok_or_else(|| {
            SensorsError::settings(format!(
                "channel \"{}\" has no value at {time_s} s: it runs from {} s to {} s",
                channel.code,
                channel.start_s,
                channel.end_s()
            ))
        })?;
        resampled.values.push(value);
    }
    resampled.check()?;
    Ok(resampled)
}

#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the place is checked to lie between 0 and the number of samples"
)]
pub(crate) fn value_at(channel: &Channel, time_s: f64, interpolation: Interpolation) -> Option<f64> {
    let last = channel.values.len().checked_sub(1)?;
    let place = (time_s - channel.start_s) / channel.step_s;
    let inside = (-END_SHARE..=last as f64 + END_SHARE).contains(&place);
    if !inside {
        return None;
    }
    let place = place.clamp(0.0, last as f64);
    let n_points = match interpolation {
        Interpolation::Linear => 2,
        Interpolation::Cubic => 4,
    }
    .min(channel.values.len());
    let first = (place as usize + 1).saturating_sub(n_points / 2).min(channel.values.len() - n_points);
    Some(lagrange(&channel.values[first..first + n_points], place - first as f64))
}

/// The polynomial through samples at 0, 1, 2 …, at `place`.
#[expect(clippy::cast_precision_loss, reason = "at most four samples")]
fn lagrange(samples: &[f64], place: f64) -> f64 {
    let mut sum = 0.0;
    for (i, sample) in samples.iter().enumerate() {
        let mut weight = 1.0;
        for j in (0..samples.len()).filter(|&j| j != i) {
            weight *= (place - j as f64) / (i as f64 - j as f64);
        }
        sum += weight * sample;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::tests::channel;

    fn cube() -> Channel {
        channel("g", 1.0, 0.5, (0..7).map(|i| f64::from(i).powi(3)).collect())
    }

    #[test]
    fn a_cubic_is_kept_exactly_and_a_line_lies_between() {
        for place in [0.0, 0.3, 1.5, 3.25, 5.9, 6.0] {
            let value = cube().at(1.0 + 0.5 * place, Interpolation::Cubic).unwrap();
            assert!((value - place * place * place).abs() < 1e-9, "{place}: {value}");
        }
        assert!((cube().at(1.25, Interpolation::Linear).unwrap() - 0.5).abs() < 1e-12);
        assert!((cube().at(4.0, Interpolation::Linear).unwrap() - 216.0).abs() < 1e-9);
    }

    #[test]
    fn outside_the_record_there_is_no_value() {
        for time_s in [0.99, 4.01, f64::NAN, f64::INFINITY] {
            assert!(cube().at(time_s, Interpolation::Cubic).is_none());
            assert!(cube().at(time_s, Interpolation::Linear).is_none());
        }
        assert!(channel("g", 0.0, 1.0, Vec::new()).at(0.0, Interpolation::Linear).is_none());
        assert_eq!(channel("g", 0.0, 1.0, vec![4.0]).at(0.0, Interpolation::Cubic), Some(4.0));
    }

    #[test]
    fn a_time_base_beyond_the_record_is_refused() {
        assert_eq!(resample(&cube(), 1.0, 1.0, 4, Interpolation::Cubic).unwrap().values[3].round(), 216.0);
        assert!(
            resample(&cube(), 1.0, 1.0, 5, Interpolation::Cubic)
                .unwrap_err()
                .to_string()
                .contains("no value at 5 s")
        );
        assert!(resample(&cube(), 1.0, 0.0, 4, Interpolation::Cubic).is_err());
        assert!(resample(&cube(), 1.0, 0.1, 1, Interpolation::Cubic).is_err());
    }
}
