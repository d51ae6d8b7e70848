//! Whether a record's zero drifts: its slope over a quiet stretch, and how far it has moved by another one.

use crate::offset::{mean_with_u, stretch};
use crate::{Channel, SensorsError};

/// What quiet stretches say of the zero; value and standard uncertainty each, in the channel's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZeroDrift {
    /// Zero over the stretch before.
    pub zero: [f64; 2],
    /// Its slope over that stretch, unit/s.
    pub slope: [f64; 2],
    /// Zero over the stretch after, less that before; `None` without one.
    pub moved: Option<[f64; 2]>,
}

/// Slope of the zero over a quiet stretch by least squares, and its move to a stretch after the test; from and to, s.
///
/// Uncertainties are those of correlated noise, as in [`crate::remove_zero`]: variances times 1 + 2 Σ ρ of the residuals.
///
/// # Errors
/// [`SensorsError::Settings`] for an unusable channel, or fewer than ten samples in a stretch.
pub fn zero_drift(
    channel: &Channel,
    before_s: [f64; 2],
    after_s: Option<[f64; 2]>,
) -> Result<ZeroDrift, SensorsError> {
    channel.check()?;
    let (times, quiet) = stretch(channel, before_s, "a drift")?;
    let zero = mean_with_u(&quiet);
    let middle_s = mean(&times);
    let along: f64 = times.iter().map(|t| (t - middle_s).powi(2)).sum();
    let across: f64 = times.iter().zip(&quiet).map(|(t, value)| (t - middle_s) * (value - zero.0)).sum();
    let slope = across / along;
    let left: Vec<f64> =
        times.iter().zip(&quiet).map(|(t, value)| value - zero.0 - slope * (t - middle_s)).collect();
    // The mean's own uncertainty holds the noise and how far it hangs together: u² n is the variance that counts.
    let noise = mean_with_u(&left).1;
    #[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
    let n = quiet.len() as f64;
    let slope_u = noise * (n / along * (n - 1.0) / (n - 2.0)).sqrt();
    let moved = after_s
        .map(|after_s| {
            let (_, after) = stretch(channel, after_s, "a drift")?;
            let (level, u) = mean_with_u(&after);
            Ok::<_, SensorsError>([level - zero.0, u.hypot(zero.1)])
        })
        .transpose()?;
    Ok(ZeroDrift { zero: [zero.0, zero.1], slope: [slope, slope_u], moved })
}

#[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::tests::channel;

    /// Even numbers from −0.5 to 0.5 (linear congruence of Numerical Recipes, second edition).
    fn noise(n_samples: usize, seed: u32) -> Vec<f64> {
        let mut state = seed;
        (0..n_samples)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                f64::from(state >> 8) / f64::from(1 << 24) - 0.5
            })
            .collect()
    }

    #[test]
    fn a_slope_is_found_and_its_band_holds_as_often_as_it_says() {
        let (mut inside, mut moved_inside, n_runs) = (0, 0, 400);
        for seed in 0..n_runs {
            let values = noise(1200, seed * 7919 + 1);
            let values =
                values.iter().enumerate().map(|(i, n)| 2.0 + 3.0 * (-0.05 + i as f64 * 1e-4) + n).collect();
            let record = channel("m/s2", -0.05, 1e-4, values);
            let found = zero_drift(&record, [-0.05, 0.0], Some([0.019, 0.069])).unwrap();
            inside += u32::from((found.slope[0] - 3.0).abs() <= 1.96 * found.slope[1]);
            let [moved, u] = found.moved.unwrap();
            moved_inside += u32::from((moved - 3.0 * 0.069).abs() <= 1.96 * u);
        }
        let shares = [inside, moved_inside].map(|inside| f64::from(inside) / f64::from(n_runs));
        // White noise: the sum of correlations up to the first below zero widens the band a little.
        assert!(shares.iter().all(|share| (0.925..=0.985).contains(share)), "{shares:?}");
    }

    #[test]
    fn the_slope_of_a_straight_line_is_exact_and_short_stretches_are_refused() {
        let line = channel("rad/s", -1.0, 0.01, (0..200).map(|i| 0.5 + 0.25 * f64::from(i)).collect());
        let found = zero_drift(&line, [-1.0, -0.5], None).unwrap();
        assert!((found.slope[0] - 25.0).abs() < 1e-9 && found.moved.is_none(), "{found:?}");
        for (before, after) in [([-1.0, -0.95], None), ([-1.0, -0.5], Some([0.98, 2.0])), ([0.0, -1.0], None)]
        {
            assert!(zero_drift(&line, before, after).unwrap_err().to_string().contains("at least 10"));
        }
    }
}
