//! Noise of the sensor near zero frequency, which integration turns into a wandering displacement.

use crate::CrosscheckOptions;
use filmgauge_sensors::Channel;

/// Shortest and longest block whose mean is taken, s: long blocks stand best for the noise that integrates.
const BLOCK_RANGE_S: (f64, f64) = (0.001, 0.005);
/// Blocks wished for; a short stretch gets shorter blocks.
const WISHED_BLOCKS: f64 = 8.0;
/// The stretch ends this long before contact, s: a channel may be early.
const GUARD_S: f64 = 0.005;
/// Fewest blocks for a usable variance.
const FEWEST_BLOCKS: usize = 5;

/// Noise as variance of a sample times its step, (m/s²)² s; 0 where it cannot be measured.
///
/// Means over blocks before contact vary by noise / block length. With few blocks the variance is itself
/// uncertain; it is widened by ν/(ν − 2), the mean of its posterior.
#[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
pub(crate) fn sensor_noise(channel: &Channel, contact_s: f64, options: &CrosscheckOptions) -> f64 {
    if let Some(noise) = options.sensor_noise_m2_s3 {
        return noise;
    }
    let n_before =
        (0..channel.values.len()).take_while(|&index| channel.time_s(index) < contact_s - GUARD_S).count();
    let stretch_s = n_before as f64 * channel.step_s;
    let n_block =
        samples_in((stretch_s / WISHED_BLOCKS).clamp(BLOCK_RANGE_S.0, BLOCK_RANGE_S.1), channel.step_s);
    let means: Vec<f64> = channel.values[..n_before]
        .rchunks_exact(n_block)
        .map(|block| block.iter().sum::<f64>() / block.len() as f64)
        .collect();
    if means.len() < FEWEST_BLOCKS {
        return 0.0;
    }
    let freedom = (means.len() - 1) as f64;
    let mean = means.iter().sum::<f64>() / means.len() as f64;
    let variance = means.iter().map(|block| (block - mean).powi(2)).sum::<f64>() / freedom;
    variance * n_block as f64 * channel.step_s * freedom / (freedom - 2.0)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a float cast saturates; the count is at least 1"
)]
fn samples_in(span_s: f64, step_s: f64) -> usize {
    ((span_s / step_s).round() as usize).max(1)
}

/// Covariance of displacements made by integrating white noise twice from a common start, per unit of
/// noise: m² (3 M − m) / 6 for the times m ≤ M after the start.
pub(crate) fn wander_covariance(one_s: f64, other_s: f64) -> f64 {
    let (m, big) = (one_s.min(other_s), one_s.max(other_s));
    m * m * (3.0 * big - m) / 6.0
}

/// Covariance of the speed at `one_s`, made by integrating white noise once, with the displacement at `other_s`, per unit of
/// noise: m (o − m / 2) with m the earlier of both and o the displacement's time.
pub(crate) fn wander_speed_covariance(one_s: f64, other_s: f64) -> f64 {
    let m = one_s.min(other_s);
    m * (other_s - 0.5 * m)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_distr::{Distribution, StandardNormal};
    use rand_xoshiro::Xoshiro256PlusPlus;
    use rand_xoshiro::rand_core::SeedableRng;
    use std::path::PathBuf;

    #[test]
    fn white_noise_is_measured_before_contact() {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(7);
        let values =
            (0..6000).map(|_| 0.5 * Distribution::<f64>::sample(&StandardNormal, &mut random)).collect();
        let channel = Channel {
            code: "a".to_owned(),
            unit: "m/s2".to_owned(),
            start_s: -0.5,
            step_s: 1e-4,
            values,
            file: PathBuf::new(),
            comments: Vec::new(),
            steps: Vec::new(),
        };
        let noise = sensor_noise(&channel, 0.0, &CrosscheckOptions::default());
        assert!((0.7..1.5).contains(&(noise / (0.25 * 1e-4))), "{noise}");
        assert!(sensor_noise(&channel, -0.493, &CrosscheckOptions::default()).abs() < 1e-300);
        let given = CrosscheckOptions { sensor_noise_m2_s3: Some(3.0), ..CrosscheckOptions::default() };
        assert!((sensor_noise(&channel, 0.0, &given) - 3.0).abs() < 1e-15);
    }

    #[test]
    fn wander_is_that_of_an_integrated_random_walk() {
        // Variance t³/3, computed from the integral of (t − s)² over s.
        assert!((wander_covariance(0.3, 0.3) - 0.009).abs() < 1e-15);
        assert!((wander_covariance(0.1, 0.3) - wander_covariance(0.3, 0.1)).abs() < 1e-18);
        // The derivative of the covariance of displacements with respect to the first time.
        for (t, s) in [(0.1, 0.3), (0.3, 0.1)] {
            let slope = (wander_covariance(t + 1e-6, s) - wander_covariance(t - 1e-6, s)) / 2e-6;
            assert!((slope - wander_speed_covariance(t, s)).abs() < 1e-8);
        }
    }
}
