//! What noise of the marks must do to speeds and accelerations: closed forms to print beside the results.

use crate::{Filtered, Smoothed};
use std::f64::consts::PI;

/// Least standard deviation of the k-th derivative that any linear unbiased estimate of a signal with band
/// `band_hz` can have, from marks with standard deviation `u` every `step_s` seconds:
/// s² T w^(2k+1) / (π (2k+1)), w = 2 π band (Lanshammar 1982, J. Biomech. 15:459).
#[must_use]
pub fn derivative_limit(u: f64, step_s: f64, band_hz: f64, order: u32) -> f64 {
    let power = 2.0 * f64::from(order) + 1.0;
    let w = 2.0 * PI * band_hz;
    (u * u * step_s * w.powf(power) / (PI * power)).sqrt()
}

/// How a curve was differentiated, and the least error that any linear unbiased estimate could have there.
#[derive(Debug, Clone, PartialEq)]
pub struct DerivativeLimits {
    /// Method in words.
    pub method: String,
    /// Its setting in words.
    pub setting: String,
    /// Band that the method lets through, Hz.
    pub band_hz: f64,
    /// Lanshammar's limit for value, rate and second derivative: unit, unit/s, unit/s².
    pub limits: [f64; 3],
}

/// Method, setting and limits of a smooth curve at one of its frames; `u` is the standard deviation of its marks. `None`
/// beyond the last frame.
#[must_use]
pub fn limits_of_curve(curve: &Smoothed, frame: usize, u: f64) -> Option<DerivativeLimits> {
    let band_hz = *curve.band_hz().get(frame)?;
    let (first, last) = (curve.times_s.first()?, curve.times_s.last()?);
    #[expect(clippy::cast_precision_loss, reason = "counts of frames")]
    let step_s = (last - first) / (curve.times_s.len().max(2) - 1) as f64;
    Some(DerivativeLimits {
        method: format!("smoothing spline of degree {}", curve.degree_number()),
        setting: format!("strength {:.2e}", curve.q[frame]),
        band_hz,
        limits: [0, 1, 2].map(|order| derivative_limit(u, step_s, band_hz, order)),
    })
}

/// The same of a filtered curve; `None` for a filter without a single cut-off.
#[must_use]
pub fn limits_of_filter(curve: &Filtered, u: f64) -> Option<DerivativeLimits> {
    let band_hz = curve.band_hz?;
    let (first, last) = (curve.times_s.first()?, curve.times_s.last()?);
    #[expect(clippy::cast_precision_loss, reason = "counts of frames")]
    let step_s = (last - first) / (curve.times_s.len().max(2) - 1) as f64;
    Some(DerivativeLimits {
        method: curve.method.to_owned(),
        setting: curve.setting.clone(),
        band_hz,
        limits: [0, 1, 2].map(|order| derivative_limit(u, step_s, band_hz, order)),
    })
}

/// Standard deviation of the central difference over `n` frames to either side: u / (√2 n dt).
#[must_use]
pub fn central_difference_u(u: f64, step_s: f64, n: u32) -> f64 {
    u / (std::f64::consts::SQRT_2 * f64::from(n) * step_s)
}

/// Standard deviation of the second difference of three neighbouring frames: √6 u / dt².
#[must_use]
pub fn second_difference_u(u: f64, step_s: f64) -> f64 {
    6.0_f64.sqrt() * u / (step_s * step_s)
}

/// Standard deviation of the least-squares slope over 2m + 1 frames: u / (dt √S), S = m (m + 1) (2m + 1) / 3.
#[must_use]
pub fn slope_u(u: f64, step_s: f64, m: u32) -> f64 {
    u / (step_s * slope_sum(m).sqrt())
}

/// Amplitude of that slope for a sine of `frequency_hz`, over the true one: Σ i sin(i w dt) / (S w dt), i = -m to m.
#[must_use]
pub fn slope_gain(frequency_hz: f64, step_s: f64, m: u32) -> f64 {
    let phase = 2.0 * PI * frequency_hz * step_s;
    if phase == 0.0 || m == 0 {
        return 1.0;
    }
    let sum: f64 = (1..=m).map(|i| 2.0 * f64::from(i) * (f64::from(i) * phase).sin()).sum();
    sum / (slope_sum(m) * phase)
}

fn slope_sum(m: u32) -> f64 {
    let m = f64::from(m);
    m * (m + 1.0) * (2.0 * m + 1.0) / 3.0
}

#[cfg(test)]
mod tests {
    use super::*;

    // All values here are computed from the stated formulas.

    #[test]
    fn lanshammar_limit_of_acceleration_and_speed() {
        for (rate, band_hz, a_g, v_mm_s) in [
            (500.0, 60.0, 0.127, 4.3),
            (1000.0, 60.0, 0.090, 3.0),
            (1000.0, 100.0, 0.322, 6.5),
            (10000.0, 165.0, 0.356, 4.3),
        ] {
            assert!((derivative_limit(4e-5, 1.0 / rate, band_hz, 2) / 9.806_65 - a_g).abs() < 6e-4);
            assert!((derivative_limit(4e-5, 1.0 / rate, band_hz, 1) * 1e3 - v_mm_s).abs() < 0.06);
        }
    }

    #[test]
    fn differences_and_slopes_of_two_millimetres() {
        let u = 2e-3;
        assert!((central_difference_u(u, 1e-3, 4) - 0.353_55).abs() < 5e-5);
        assert!((second_difference_u(u, 1e-3) / 9.806_65 - 499.6).abs() < 0.1);
        for (m, u_m_s) in [(2, 0.6325), (4, 0.2582), (10, 0.0721)] {
            assert!((slope_u(u, 1e-3, m) - u_m_s).abs() < 5e-5);
        }
    }

    #[test]
    fn slopes_flatten_fast_sines() {
        for (m, gains) in [
            (2, [0.997_765, 0.980_002, 0.921_623]),
            (4, [0.992_257, 0.931_817, 0.746_596]),
            (10, [0.957_367, 0.660_696, 0.097_016]),
        ] {
            for (frequency_hz, gain) in [10.0, 30.0, 60.0].into_iter().zip(gains) {
                assert!((slope_gain(frequency_hz, 1e-3, m) - gain).abs() < 1e-6, "{m} {frequency_hz}");
            }
        }
        assert!((slope_gain(0.0, 1e-3, 4) - 1.0).abs() < 1e-15);
    }
}
