//! Smoothness by cross-validation beside smoothness by the stated noise: two curves, and how far they are apart.

use super::{SmoothOptions, Smoothed, Smoothness, smooth};
use crate::MotionFailure;
use crate::samples::Sample;

/// Both choices of smoothness of one curve.
#[derive(Debug, Clone)]
pub struct SmoothnessComparison {
    /// Curve with the smoothness of cross-validation.
    pub cross_validated: Smoothed,
    /// Curve with the smoothness that the stated noise asks for.
    pub known_noise: Smoothed,
    /// Strength of the driving noise by cross-validation over that by the stated noise, decimal logarithm, mean over the
    /// frames: a decade is a third (degree 5: a half) more bandwidth.
    pub log_strength_ratio: f64,
    /// Root mean square difference of value, rate and second derivative: unit, unit/s, unit/s².
    pub rms_difference: [f64; 3],
    /// The same over the root mean square standard uncertainty of the cross-validated curve.
    pub relative_difference: [f64; 3],
}

/// Smooths a curve both ways; `options.smoothness` is not used.
///
/// # Errors
/// As [`smooth`].
pub fn compare_smoothness(
    times_s: &[f64],
    samples: &[Sample],
    options: &SmoothOptions,
) -> Result<SmoothnessComparison, MotionFailure> {
    let by = |smoothness| smooth(times_s, samples, &SmoothOptions { smoothness, ..options.clone() });
    let (cross_validated, known_noise) = (by(Smoothness::Gcv)?, by(Smoothness::KnownNoise)?);
    #[expect(clippy::cast_precision_loss, reason = "counts of frames")]
    let n = cross_validated.times_s.len() as f64;
    let logs = cross_validated.q.iter().zip(&known_noise.q).map(|(a, b)| (a / b).log10());
    let log_strength_ratio = logs.sum::<f64>() / n;
    let rms = |k: usize| {
        let pairs = cross_validated.states.iter().zip(&known_noise.states);
        (pairs.map(|(a, b)| (a[k] - b[k]).powi(2)).sum::<f64>() / n).sqrt()
    };
    let u = |k: usize| (cross_validated.covs.iter().map(|cov| cov[k][k]).sum::<f64>() / n).sqrt();
    let rms_difference = [0, 1, 2].map(rms);
    let relative_difference = [0, 1, 2].map(|k| rms_difference[k] / u(k));
    Ok(SmoothnessComparison {
        cross_validated,
        known_noise,
        log_strength_ratio,
        rms_difference,
        relative_difference,
    })
}
