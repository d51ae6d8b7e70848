//! Values and slopes of a noisy, unevenly sampled curve between its samples.

use crate::TimingError;
use crate::error::{all_above_zero, all_finite, all_growing};
use nalgebra::{Matrix3, Vector3};

/// Samples of a curve on one clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimedSeries<'a> {
    /// Readings of the clock, growing, s.
    pub times_s: &'a [f64],
    /// Values, in any unit.
    pub values: &'a [f64],
    /// Standard uncertainty of each value, independent of the others, in the same unit; above zero.
    pub u: &'a [f64],
}

/// Four samples and the weights that interpolate between them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stencil {
    pub(crate) first: usize,
    pub(crate) weights: [f64; 4],
}

/// Value and slope by a parabola through the samples about an instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Smooth {
    pub(crate) value: f64,
    pub(crate) slope: f64,
    pub(crate) slope_variance: f64,
}

impl TimedSeries<'_> {
    /// Whether the lists belong together and hold usable numbers in order of time.
    pub(crate) fn check(&self, what: &'static str) -> Result<(), TimingError> {
        for found in [self.values.len(), self.u.len()] {
            if found != self.times_s.len() {
                return Err(TimingError::LengthsDiffer { what, found, expected: self.times_s.len() });
            }
        }
        all_finite(what, self.times_s)?;
        all_finite(what, self.values)?;
        all_above_zero(what, self.u)?;
        all_growing(what, self.times_s)
    }

    /// Cubic through the two samples before and the two after an instant; `None` at the ends and across gaps.
    pub(crate) fn stencil(&self, time_s: f64, most_gap_s: f64) -> Option<Stencil> {
        let after = self.times_s.partition_point(|&at| at <= time_s);
        let first = after.checked_sub(2)?;
        let at = self.times_s.get(first..first + 4)?;
        if at.windows(2).any(|pair| pair[1] - pair[0] > most_gap_s) {
            return None;
        }
        let mut weights = [1.0; 4];
        for (own, weight) in weights.iter_mut().enumerate() {
            for other in (0..4).filter(|&other| other != own) {
                *weight *= (time_s - at[other]) / (at[own] - at[other]);
            }
        }
        Some(Stencil { first, weights })
    }

    pub(crate) fn interpolated(&self, stencil: &Stencil) -> f64 {
        stencil.weights.iter().zip(&self.values[stencil.first..]).map(|(weight, value)| weight * value).sum()
    }

    /// Covariance of two interpolated values, from the samples that both use.
    pub(crate) fn covariance(&self, one: &Stencil, other: &Stencil) -> f64 {
        let shared = one.first.max(other.first)..(one.first + 4).min(other.first + 4);
        shared
            .map(|at| one.weights[at - one.first] * other.weights[at - other.first] * self.u[at].powi(2))
            .sum()
    }

    /// Parabola by weighted least squares over ± `half_s`; `None` with fewer than five samples there. The weights fall
    /// to 0 at the ends as (1 − z²)², so that nothing jumps when a sample enters.
    pub(crate) fn smooth(&self, time_s: f64, half_s: f64) -> Option<Smooth> {
        let first = self.times_s.partition_point(|&at| at <= time_s - half_s);
        let end = self.times_s.partition_point(|&at| at < time_s + half_s);
        if end < first + 5 {
            return None;
        }
        let (mut normal, mut spread) = (Matrix3::zeros(), Matrix3::zeros());
        let mut right = Vector3::zeros();
        for at in first..end {
            let z = (self.times_s[at] - time_s) / half_s;
            let row = Vector3::new(1.0, z, z * z) / self.u[at];
            let taper = (1.0 - z * z).powi(2);
            normal += row * row.transpose() * taper;
            spread += row * row.transpose() * (taper * taper);
            right += row * (self.values[at] / self.u[at] * taper);
        }
        let inverse = normal.cholesky()?.inverse();
        let terms = inverse * right;
        let covariance = inverse * spread * inverse;
        Some(Smooth {
            value: terms[0],
            slope: terms[1] / half_s,
            slope_variance: covariance[(1, 1)] / (half_s * half_s),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cubics_and_slopes_are_exact() {
        let times_s = [0.0, 0.9, 2.1, 3.0, 4.2, 5.0];
        let cubic: Vec<f64> =
            times_s.iter().map(|t: &f64| 1.0 - t + 0.3 * t * t - 0.05 * t.powi(3)).collect();
        let series = TimedSeries { times_s: &times_s, values: &cubic, u: &[0.1; 6] };
        let stencil = series.stencil(2.5, 2.0).unwrap();
        let truth = 1.0 - 2.5 + 0.3 * 6.25 - 0.05 * 15.625;
        assert!((series.interpolated(&stencil) - truth).abs() < 1e-12);
        assert!(series.stencil(0.5, 2.0).is_none() && series.stencil(2.5, 1.0).is_none());
        let parabola: Vec<f64> = times_s.iter().map(|t| 2.0 + 3.0 * t - t * t).collect();
        let series = TimedSeries { times_s: &times_s, values: &parabola, u: &[0.1; 6] };
        let smooth = series.smooth(2.0, 3.5).unwrap();
        assert!((smooth.slope + 1.0).abs() < 1e-10 && (smooth.value - 4.0).abs() < 1e-10);
    }

    #[test]
    fn lists_must_fit_together() {
        let times_s = [0.0, 1.0, 1.0];
        let series = TimedSeries { times_s: &times_s, values: &[0.0; 3], u: &[1.0; 3] };
        assert!(matches!(series.check("a"), Err(TimingError::Backwards { index: 2, .. })));
        let series = TimedSeries { values: &[0.0; 2], ..series };
        assert!(matches!(series.check("a"), Err(TimingError::LengthsDiffer { .. })));
    }
}
