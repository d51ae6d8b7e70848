//! Origin and units of a chain: steps for time, the mean stated noise for values, about a straight line.

use crate::matrix::Matrix4;
use crate::samples::Sample;
use crate::spline::Degree;

/// Origin and units of a chain.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    start_s: f64,
    step_s: f64,
    /// Root of the mean stated variance, the curve's unit.
    noise: f64,
    value_at_start: f64,
    slope_per_step: f64,
    degree: Degree,
}

impl Scale {
    /// For times that grow and at least two marks, at both ends.
    pub(crate) fn of(times_s: &[f64], samples: &[Sample], degree: Degree) -> Self {
        let mut gaps: Vec<f64> = times_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
        gaps.sort_by(f64::total_cmp);
        let step_s = gaps[gaps.len() / 2];
        let (mut sum, mut n) = (0.0, 0.0);
        for (_, variance) in samples.iter().flatten() {
            sum += variance;
            n += 1.0;
        }
        let value = |sample: &Sample| sample.map_or(0.0, |(value, _)| value);
        let (start, end) = (samples.first().map_or(0.0, value), samples.last().map_or(0.0, value));
        let steps = (times_s[times_s.len() - 1] - times_s[0]) / step_s;
        Self {
            start_s: times_s[0],
            step_s,
            noise: f64::sqrt(sum / n),
            value_at_start: start,
            slope_per_step: (end - start) / steps,
            degree,
        }
    }

    /// Steps from the first mark to an instant.
    pub(crate) fn steps(&self, at_s: f64) -> f64 {
        (at_s - self.start_s) / self.step_s
    }

    /// Instant of so many steps from the first mark, s.
    pub(crate) fn time_s(&self, at: f64) -> f64 {
        self.start_s + at * self.step_s
    }

    /// A length of time in steps.
    pub(crate) fn span(&self, seconds: f64) -> f64 {
        seconds / self.step_s
    }

    /// A derivative of the given order in chain units.
    pub(crate) fn derivative(&self, value: f64, order: i32) -> f64 {
        value * self.step_s.powi(order) / self.noise
    }

    /// The same driving noise in unit² per second^(2m-1).
    pub(crate) fn drive_per_s(&self, drive: f64) -> f64 {
        drive * self.noise * self.noise / self.step_s.powi(self.degree.power())
    }

    /// The same driving noise in chain units.
    pub(crate) fn drive_per_step(&self, q: f64) -> f64 {
        q * self.step_s.powi(self.degree.power()) / (self.noise * self.noise)
    }

    /// State and covariance in the curve's unit and in seconds; `noise_scale` widens the stated noise. What the degree
    /// does not use is zero.
    pub(crate) fn restored(
        &self,
        at: f64,
        state: [f64; 4],
        cov: &Matrix4,
        noise_scale: f64,
    ) -> ([f64; 4], Matrix4) {
        let mut unit = [0, -1, -2, -3].map(|power| self.step_s.powi(power) * self.noise);
        unit[self.degree.order()..].fill(0.0);
        let mut restored: [f64; 4] = std::array::from_fn(|k| state[k] * unit[k]);
        restored[0] += self.value_at_start + self.slope_per_step * at;
        restored[1] += self.slope_per_step / self.step_s;
        let widened = noise_scale * noise_scale;
        (restored, std::array::from_fn(|i| std::array::from_fn(|j| cov[i][j] * unit[i] * unit[j] * widened)))
    }

    pub(crate) fn sample(&self, at: f64, sample: Sample) -> Sample {
        sample.map(|(value, variance)| {
            let about_line = value - self.value_at_start - self.slope_per_step * at;
            (about_line / self.noise, variance / (self.noise * self.noise))
        })
    }
}
