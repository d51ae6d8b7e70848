//! Two records as means over the same short blocks, the second one moved by a lag.

use super::PairOptions;
use crate::Measured;
use filmgauge_sensors::Channel;

/// Fewest blocks that are compared.
const FEWEST_BLOCKS: usize = 20;
/// A block holds this many samples of either record at least.
const FEWEST_SAMPLES: f64 = 4.0;
/// Lags are looked for this far apart, s.
const LOOK_S: f64 = 0.000_5;

/// Both records with their running integrals.
pub(super) struct Blocks<'a> {
    judged: Running<'a>,
    reference_means: Vec<f64>,
    /// Length of a block, s.
    pub(super) length_s: f64,
    from_s: f64,
    n: usize,
}

struct Running<'a> {
    channel: &'a Channel,
    sums: Vec<f64>,
}

impl<'a> Running<'a> {
    fn new(channel: &'a Channel) -> Self {
        let mut sums = vec![0.0];
        for pair in channel.values.windows(2) {
            sums.push(sums[sums.len() - 1] + 0.5 * (pair[0] + pair[1]) * channel.step_s);
        }
        Self { channel, sums }
    }

    /// Integral from the first sample, straight lines between samples; held beyond the ends.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the place is clamped to the record"
    )]
    fn until(&self, time_s: f64) -> f64 {
        let last = self.sums.len() - 1;
        let place = ((time_s - self.channel.start_s) / self.channel.step_s).clamp(0.0, last as f64);
        let index = (place as usize).min(last - 1);
        let share = place - index as f64;
        let (a, b) = (self.channel.values[index], self.channel.values[index + 1]);
        self.sums[index] + self.channel.step_s * (a * share + 0.5 * (b - a) * share * share)
    }
}

impl<'a> Blocks<'a> {
    /// `None` where too few blocks lie within both records.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a float cast saturates, and the stretch is bounded by the options"
    )]
    pub(super) fn new(
        reference: &Channel,
        judged: &'a Channel,
        contact_s: f64,
        options: &PairOptions,
    ) -> Option<Self> {
        let limits = &options.crosscheck;
        let margin_s = limits.lag_search_s + limits.lag_limit_s;
        let length_s = options.block_s.max(FEWEST_SAMPLES * reference.step_s.max(judged.step_s));
        let from_s =
            (contact_s - limits.before_contact_s).max(reference.start_s).max(judged.start_s + margin_s);
        let to_s = (contact_s + limits.after_contact_s).min(reference.end_s()).min(judged.end_s() - margin_s);
        let n = ((to_s - from_s) / length_s).floor().max(0.0) as usize;
        if n < FEWEST_BLOCKS {
            return None;
        }
        let mut blocks =
            Self { judged: Running::new(judged), reference_means: Vec::new(), length_s, from_s, n };
        blocks.reference_means = blocks.means(&Running::new(reference), 0.0);
        Some(blocks)
    }

    #[expect(clippy::cast_precision_loss, reason = "block counts stay far below 2^53")]
    fn start_s(&self, index: usize) -> f64 {
        self.from_s + index as f64 * self.length_s
    }

    fn means(&self, running: &Running<'_>, lag_s: f64) -> Vec<f64> {
        let edges: Vec<f64> = (0..=self.n).map(|index| running.until(self.start_s(index) + lag_s)).collect();
        edges.windows(2).map(|pair| (pair[1] - pair[0]) / self.length_s).collect()
    }

    pub(super) fn reference(&self) -> &[f64] {
        &self.reference_means
    }

    pub(super) fn judged(&self, lag_s: f64) -> Vec<f64> {
        self.means(&self.judged, lag_s)
    }

    /// Share of each block that lies after an instant.
    pub(super) fn after(&self, from_s: f64) -> Vec<f64> {
        (0..self.n)
            .map(|index| ((self.start_s(index + 1) - from_s) / self.length_s).clamp(0.0, 1.0))
            .collect()
    }

    pub(super) fn used_s(&self) -> [f64; 2] {
        [self.from_s, self.start_s(self.n)]
    }

    pub(super) fn unit(&self) -> &'static str {
        if self.judged.channel.unit == "rad/s" { " rad/s" } else { " m/s²" }
    }

    #[expect(clippy::cast_precision_loss, reason = "block counts stay far below 2^53")]
    pub(super) fn count(&self) -> f64 {
        self.n as f64
    }

    /// Sum of squares of the reference about its mean.
    pub(super) fn spread(&self) -> f64 {
        let mean = self.reference_means.iter().sum::<f64>() / self.count();
        self.reference_means.iter().map(|value| (value - mean).powi(2)).sum()
    }

    pub(super) fn correlation(&self, lag_s: f64) -> f64 {
        let (a, b) = (&self.reference_means, self.judged(lag_s));
        let mean = |values: &[f64]| values.iter().sum::<f64>() / self.count();
        let (a_mean, b_mean) = (mean(a), mean(&b));
        let (mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0);
        for (a, b) in a.iter().zip(&b) {
            let (a, b) = (a - a_mean, b - b_mean);
            aa += a * a;
            bb += b * b;
            ab += a * b;
        }
        if aa * bb > 0.0 { ab / (aa * bb).sqrt() } else { 0.0 }
    }

    /// The lag of the greatest correlation in size, and that correlation.
    pub(super) fn look_for_lag(&self, search_s: f64) -> (f64, f64) {
        let lags = std::iter::successors(Some(-search_s), |lag| Some(lag + LOOK_S))
            .take_while(|lag| *lag <= search_s);
        lags.map(|lag| (lag, self.correlation(lag)))
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
            .unwrap_or_default()
    }

    /// Mean of judged less reference with its uncertainty, and the scatter of the differences over their noise; the uncertainty is widened
    /// by that where it is above 1.
    pub(super) fn mean_difference(&self, variance: f64) -> (Measured, f64) {
        let judged = self.judged(0.0);
        let differences: Vec<f64> = judged.iter().zip(&self.reference_means).map(|(b, a)| b - a).collect();
        let value = differences.iter().sum::<f64>() / self.count();
        let scatter = differences.iter().map(|it| (it - value).powi(2)).sum::<f64>() / (self.count() - 1.0);
        let u = (scatter.max(variance) / self.count()).sqrt();
        (Measured { value, u }, (scatter / variance).sqrt())
    }
}
