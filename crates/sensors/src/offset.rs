//! Zero offset from a quiet stretch of the record, with its uncertainty.

use crate::{Channel, SensorsError};
use filmgauge_quantities::{Acceleration, Quantity, Uncertain};

/// Fewest samples from which an offset and its uncertainty are taken.
const FEWEST_SAMPLES: usize = 10;

/// Subtracts the mean of the samples from `from_s` to `to_s`; returns the channel and the offset taken away.
///
/// The channel must be in m/s2. The uncertainty is that of the mean of correlated noise: the sample
/// variance over n, times one plus twice the sum of autocorrelations up to the first that is not positive.
///
/// # Errors
/// [`SensorsError::Unit`] when the channel is not in m/s2; [`SensorsError::Settings`] when fewer than ten
/// samples lie in the stretch.
pub fn remove_offset(
    channel: &Channel,
    from_s: f64,
    to_s: f64,
) -> Result<(Channel, Uncertain<Acceleration>), SensorsError> {
    channel.check()?;
    if channel.unit != "m/s2" {
        let problem = format!("is in \"{}\"; convert it to m/s2 before removing its offset", channel.unit);
        return Err(SensorsError::Unit { code: channel.code.clone(), problem });
    }
    let (level, [mean, u_mean]) = remove_zero(channel, from_s, to_s)?;
    Ok((level, Uncertain::new(Acceleration::from_si(mean), Acceleration::from_si(u_mean))))
}

/// The same for a channel in any unit: the channel, and the zero taken away with its standard uncertainty, in its unit.
///
/// # Errors
/// As [`remove_offset`], but for the unit.
pub fn remove_zero(channel: &Channel, from_s: f64, to_s: f64) -> Result<(Channel, [f64; 2]), SensorsError> {
    channel.check()?;
    let quiet = stretch(channel, [from_s, to_s], "an offset")?.1;
    let (mean, u_mean) = mean_with_u(&quiet);
    let values = channel.values.iter().map(|value| value - mean).collect();
    let step = format!("offset {mean:.6} {} removed (mean from {from_s} s to {to_s} s)", channel.unit);
    Ok((channel.stepped(values, step), [mean, u_mean]))
}

/// Times and values of the samples from one instant to another, both counted.
///
/// # Errors
/// [`SensorsError::Settings`] for fewer than ten samples; `what` they are needed for is named.
pub(crate) fn stretch(
    channel: &Channel,
    [from_s, to_s]: [f64; 2],
    what: &str,
) -> Result<(Vec<f64>, Vec<f64>), SensorsError> {
    let within = |index: &usize| (from_s..=to_s).contains(&channel.time_s(*index));
    let (times, values): (Vec<f64>, Vec<f64>) = (0..channel.values.len())
        .filter(within)
        .map(|index| (channel.time_s(index), channel.values[index]))
        .unzip();
    if values.len() < FEWEST_SAMPLES {
        return Err(SensorsError::settings(format!(
            "channel \"{}\": {} samples from {from_s} s to {to_s} s, at least {FEWEST_SAMPLES} are needed for {what}; \
             the record runs from {} s to {} s",
            channel.code,
            values.len(),
            channel.start_s,
            channel.end_s()
        )));
    }
    Ok((times, values))
}

#[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
pub(crate) fn mean_with_u(samples: &[f64]) -> (f64, f64) {
    let n_samples = samples.len() as f64;
    let mean = samples.iter().sum::<f64>() / n_samples;
    let covariance = |lag: usize| {
        samples.iter().zip(&samples[lag..]).map(|(a, b)| (a - mean) * (b - mean)).sum::<f64>() / n_samples
    };
    let variance = covariance(0);
    if variance <= 0.0 {
        return (mean, 0.0);
    }
    let correlated: f64 =
        (1..samples.len() / 2).map(|lag| covariance(lag) / variance).take_while(|&rho| rho > 0.0).sum();
    (mean, (variance / (n_samples - 1.0) * (1.0 + 2.0 * correlated)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::tests::channel;

    /// Evenly spread numbers from −0.5 to 0.5 without a generator's dependency (golden-ratio steps).
    fn noise(n_samples: u32) -> Vec<f64> {
        let mut state = 12_345_u32;
        (0..n_samples)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                f64::from(state >> 8) / f64::from(1 << 24) - 0.5
            })
            .collect()
    }

    #[test]
    fn the_mean_of_the_quiet_stretch_goes_with_its_uncertainty() {
        let values: Vec<f64> = noise(2000).iter().map(|n| 3.0 + n).collect();
        let (level, offset) = remove_offset(&channel("m/s2", -0.1, 1e-4, values), -0.1, 0.0).unwrap();
        assert!(offset.contains_95(Acceleration::from_m_s2(3.0)), "{offset:?}");
        // White noise of width 1: u = 1 / sqrt(12 n), n = 1001.
        assert!(
            (0.7..1.5).contains(&(offset.u.as_m_s2() / (1.0 / (12.0 * 1001.0_f64).sqrt()))),
            "{offset:?}"
        );
        let mean = level.values[..1001].iter().sum::<f64>() / 1001.0;
        assert!(mean.abs() < 1e-12);
        assert_eq!(level.steps.len(), 1);
    }

    #[test]
    fn noise_that_is_correlated_widens_the_uncertainty() {
        let white = noise(4000);
        let slow: Vec<f64> = white.windows(40).map(|w| w.iter().sum::<f64>() / 40.0).collect();
        let (_, offset) = remove_offset(&channel("m/s2", 0.0, 1e-4, slow), 0.0, 1.0).unwrap();
        // A moving mean keeps the uncertainty of the mean: still 1 / sqrt(12 n).
        let expected = 1.0 / (12.0 * 3961.0_f64).sqrt();
        assert!((0.6..1.7).contains(&(offset.u.as_m_s2() / expected)), "{offset:?} {expected}");
    }

    #[test]
    fn a_stretch_outside_the_record_or_another_unit_is_refused() {
        let record = channel("m/s2", 0.0, 1e-4, vec![0.0; 100]);
        assert!(remove_offset(&record, -1.0, -0.5).unwrap_err().to_string().contains("0 samples"));
        assert!(remove_offset(&record, 0.005, 0.001).is_err());
        assert!(remove_offset(&channel("g", 0.0, 1e-4, vec![0.0; 100]), 0.0, 0.01).is_err());
        let (_, still) = remove_offset(&record, 0.0, 0.005).unwrap();
        assert!(still.u.as_m_s2().abs() < 1e-15);
    }
}
