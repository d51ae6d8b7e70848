//! From a measured curve to the chain of nodes that the spline estimates, and the scales that undo it.

use crate::MotionFailure;
use crate::matrix::Matrix4;
use crate::samples::{self, Sample};
use crate::smooth::SmoothOptions;
use crate::spline::Node;

/// Fewest marks a curve with a third derivative can be drawn through with something left to judge the noise by.
pub(crate) const FEWEST_MARKS: usize = 8;
/// A kink nearer to a frame than this is put this far after it, steps: the frame itself still belongs to the curve
/// before, and no span becomes too short for the arithmetic.
const CLEAR_STEPS: f64 = 0.05;

/// Nodes in steps and in units of the mean stated noise, about a straight line.
#[derive(Debug, Clone)]
pub(crate) struct Chain {
    pub(crate) nodes: Vec<Node>,
    /// Nodes that belong to frames, with the frames' times.
    pub(crate) frames: Vec<(usize, f64)>,
    pub(crate) scale: Scale,
}

/// Origin and units of a chain.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    start_s: f64,
    step_s: f64,
    /// Root of the mean stated variance, the curve's unit.
    noise: f64,
    value_at_start: f64,
    slope_per_step: f64,
}

/// Checks the curve and builds the chain from the first to the last mark.
pub(crate) fn chain(
    times_s: &[f64],
    samples: &[Sample],
    options: &SmoothOptions,
) -> Result<Chain, MotionFailure> {
    samples::check(times_s, samples)?;
    let marks: Vec<usize> = (0..samples.len()).filter(|&i| samples[i].is_some()).collect();
    let (Some(&first), Some(&last), true) = (marks.first(), marks.last(), marks.len() >= FEWEST_MARKS) else {
        return Err(MotionFailure::TooFewMarks {
            what: "smooth curve",
            found: marks.len(),
            needed: FEWEST_MARKS,
        });
    };
    let scale = Scale::of(&times_s[first..=last], &samples[first..=last]);
    let mut nodes = Vec::with_capacity(last - first + 1 + options.onsets_s.len());
    let mut frames = Vec::with_capacity(last - first + 1);
    let jump = scale.jump(options);
    for i in first..=last {
        let at = scale.steps(times_s[i]);
        if let Some(kink) =
            nodes.last().and_then(|before: &Node| kink(&options.onsets_s, &scale, before.at, at))
        {
            nodes.push(Node { at: kink, sample: None, drive: 1.0, jump });
        }
        frames.push((nodes.len(), times_s[i]));
        nodes.push(Node { at, sample: scale.sample(at, samples[i]), drive: 1.0, jump: [0.0; 4] });
    }
    Ok(Chain { nodes, frames, scale })
}

/// The first onset from one frame on and before the next, kept clear of both; more than one cannot be told apart.
fn kink(onsets_s: &[f64], scale: &Scale, before: f64, after: f64) -> Option<f64> {
    let inside = onsets_s.iter().map(|&at_s| scale.steps(at_s)).filter(|at| (before..after).contains(at));
    let clear = CLEAR_STEPS.min(0.5 * (after - before));
    inside.min_by(f64::total_cmp).map(|at| at.clamp(before + clear, after - clear))
}

impl Scale {
    fn of(times_s: &[f64], samples: &[Sample]) -> Self {
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
        }
    }

    /// Steps from the first mark to an instant.
    pub(crate) fn steps(&self, at_s: f64) -> f64 {
        (at_s - self.start_s) / self.step_s
    }

    /// The same driving noise in unit² per second⁷.
    pub(crate) fn drive_per_s(&self, drive: f64) -> f64 {
        drive * self.noise * self.noise / self.step_s.powi(7)
    }

    /// The same driving noise in chain units.
    pub(crate) fn drive_per_step(&self, q: f64) -> f64 {
        q * self.step_s.powi(7) / (self.noise * self.noise)
    }

    /// State and covariance in the curve's unit and in seconds; `noise_scale` widens the stated noise.
    pub(crate) fn restored(
        &self,
        at: f64,
        state: [f64; 4],
        cov: &Matrix4,
        noise_scale: f64,
    ) -> ([f64; 4], Matrix4) {
        let unit = self.per_second().map(|per| per * self.noise);
        let mut restored: [f64; 4] = std::array::from_fn(|k| state[k] * unit[k]);
        restored[0] += self.value_at_start + self.slope_per_step * at;
        restored[1] += self.slope_per_step / self.step_s;
        let widened = noise_scale * noise_scale;
        (restored, std::array::from_fn(|i| std::array::from_fn(|j| cov[i][j] * unit[i] * unit[j] * widened)))
    }

    fn sample(&self, at: f64, sample: Sample) -> Sample {
        sample.map(|(value, variance)| {
            let about_line = value - self.value_at_start - self.slope_per_step * at;
            (about_line / self.noise, variance / (self.noise * self.noise))
        })
    }

    /// Variances that a kink adds, in chain units. An onset known to `u` seconds only blurs the rate as well.
    fn jump(&self, options: &SmoothOptions) -> [f64; 4] {
        let rate = options.onset_jump * options.onset_u_s;
        let third = options.onset_jump / options.onset_rise_s;
        let per = self.per_second();
        [0.0, rate, options.onset_jump, third]
            .iter()
            .zip(per)
            .map(|(sd, per)| (sd / per / self.noise).powi(2))
            .enumerate()
            .fold([0.0; 4], |mut all, (k, variance)| {
                all[k] = variance;
                all
            })
    }

    fn per_second(&self) -> [f64; 4] {
        [1.0, self.step_s.recip(), self.step_s.powi(-2), self.step_s.powi(-3)]
    }
}
