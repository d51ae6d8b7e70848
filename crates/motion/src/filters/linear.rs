//! What every linear filter shares: even times, value and two derivatives, and the noise that comes through.

use crate::MotionFailure;
use crate::samples::{self, Sample};

/// Value, rate and second derivative at one frame; `None` where the filter gives none.
pub(crate) type Row = [Option<f64>; 3];

/// A filtered curve. The bands hold the noise that comes through; what the filter flattens is not in them.
#[derive(Debug, Clone, PartialEq)]
pub struct Filtered {
    /// Times of the frames, s.
    pub times_s: Vec<f64>,
    /// Value, rate and second derivative with their standard uncertainties; `None` where the filter gives none.
    pub states: Vec<[Option<(f64, f64)>; 3]>,
    /// Name of the filter.
    pub method: &'static str,
    /// Its setting in words.
    pub setting: String,
    /// Frequency at which its gain is 1/√2, Hz; `None` where it has no single one.
    pub band_hz: Option<f64>,
}

/// An even curve without gaps.
pub(crate) struct Even {
    pub(crate) step_s: f64,
    pub(crate) values: Vec<f64>,
    pub(crate) variances: Vec<f64>,
}

impl Even {
    pub(crate) fn of(
        what: &'static str,
        times_s: &[f64],
        samples: &[Sample],
        needed: usize,
    ) -> Result<Self, MotionFailure> {
        samples::check(times_s, samples)?;
        let marks: Vec<(f64, f64)> = samples.iter().copied().flatten().collect();
        if marks.len() < needed {
            return Err(MotionFailure::TooFewMarks { what, found: marks.len(), needed });
        }
        if marks.len() < samples.len() {
            let why = "the filter cannot pass a gap; use the smoothing spline, or an interval without gaps";
            return Err(MotionFailure::Degenerate { what, why });
        }
        #[expect(clippy::cast_precision_loss, reason = "counts of frames")]
        let step_s = (times_s[times_s.len() - 1] - times_s[0]) / (times_s.len() - 1) as f64;
        if times_s.windows(2).any(|pair| (pair[1] - pair[0] - step_s).abs() > 1e-3 * step_s) {
            let why = "the filter needs even times; use the smoothing spline";
            return Err(MotionFailure::Degenerate { what, why });
        }
        let (values, variances) = marks.into_iter().unzip();
        Ok(Self { step_s, values, variances })
    }

    /// Runs the filter and carries each mark's variance through: `respond` is linear in the values, and a mark does not
    /// reach further than `reach` frames.
    pub(crate) fn filtered(
        &self,
        reach: usize,
        respond: impl Fn(&[f64]) -> Vec<Row>,
    ) -> Vec<[Option<(f64, f64)>; 3]> {
        let n = self.values.len();
        let short = n.min(4 * reach + 1);
        // Responses of a short curve to each of its marks: its ends are those of the long one, its middle all the rest.
        let responses: Vec<Vec<Row>> = (0..short)
            .map(|mark| respond(&(0..short).map(|i| f64::from(u8::from(i == mark))).collect::<Vec<f64>>()))
            .collect();
        let u = |i: usize, order: usize| -> f64 {
            let (row, offset) = if n == short || i < 2 * reach {
                (i, 0)
            } else if i + 2 * reach >= n {
                (i + short - n, n - short)
            } else {
                (2 * reach, i - 2 * reach)
            };
            let share = |mark: usize| {
                responses[mark][row][order].unwrap_or(0.0).powi(2) * self.variances[mark + offset]
            };
            (0..short).map(share).sum::<f64>().sqrt()
        };
        let rows = respond(&self.values);
        rows.iter()
            .enumerate()
            .map(|(i, row)| std::array::from_fn(|order| row[order].map(|value| (value, u(i, order)))))
            .collect()
    }
}
