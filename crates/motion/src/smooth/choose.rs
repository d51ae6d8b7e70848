//! How strong the driving noise must be, stretch by stretch and moment by moment.
//!
//! The whole chain is estimated once for each strength of a grid. A criterion summed over a stretch chooses one
//! strength and tells the noise; the same criterion summed over a window that glides along the stretch chooses the
//! strength there, because a run-up, a pulse and a coasting body are not equally smooth. The curve's bandwidth goes with the
//! eighth root of the strength: a decade is a third.

use crate::spline::{Degree, Estimate, Node, estimate};
use std::ops::Range;

/// Least and greatest strength tried at degree 7, decimal logarithm of unit² per step⁷ at unit noise: from a cubic over
/// the whole film to next to no smoothing. At degree 5 the same bandwidths are tried, with three quarters of these.
const LOG_RANGE: (f64, f64) = (-17.0, 2.0);
/// Spacing of the grid, decades; a parabola through three points finds the rest.
const LOG_STEP: f64 = 1.0;

/// How far the strength in a window may exceed that of its stretch, decades: a window of pure noise must not be
/// followed mark by mark.
const MOST_ABOVE: f64 = 1.5;

/// Neighbouring nodes that share the strength of the window about their middle.
const BLOCK: usize = 5;

/// How the strength is chosen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Choice {
    /// Whether the stated variances are taken as true, or only as weights.
    pub(crate) noise_known: bool,
    /// Cost of one equivalent parameter, 1 for the plain criteria.
    pub(crate) cost: f64,
    /// Half-width of the gliding window in marks; `None` for one strength throughout a stretch.
    pub(crate) window: Option<usize>,
}

/// Fit of some nodes: residual sum of squares over the variances, trace of the hat matrix, number of samples.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Fit {
    pub(crate) rss: f64,
    pub(crate) trace: f64,
    pub(crate) n_samples: f64,
}

impl Fit {
    /// Standard deviation of the noise over that stated; `None` where no freedom is left.
    pub(crate) fn noise_scale(&self) -> Option<f64> {
        let freedom = self.n_samples - self.trace;
        (freedom > 1.0).then(|| (self.rss / freedom).sqrt())
    }

    fn with(mut self, other: &Self, weight: f64) -> Self {
        self.rss += weight * other.rss;
        self.trace += weight * other.trace;
        self.n_samples += weight * other.n_samples;
        self
    }

    /// Generalised cross-validation: n RSS / (n - g tr A)².
    fn cross_validation(&self, cost: f64) -> f64 {
        let freedom = self.n_samples - cost * self.trace;
        if freedom > 0.0 { self.rss * self.n_samples / (freedom * freedom) } else { f64::INFINITY }
    }

    /// Predicted squared error for a known noise: RSS / s² + 2 g tr A.
    fn predicted_error(&self, cost: f64, noise_scale: f64) -> f64 {
        self.rss / (noise_scale * noise_scale) + 2.0 * cost * self.trace
    }
}

/// Residuals and trace of estimated nodes. The trace is the sum of posterior over sample variances.
pub(crate) fn fit(nodes: &[Node], estimates: &[Estimate]) -> Fit {
    shares(nodes, estimates).iter().fold(Fit::default(), |sum, share| sum.with(share, 1.0))
}

/// Sets the driving noise of every node and tells the scatter of the marks over that stated; `None` where the chain
/// cannot be estimated at any strength.
pub(crate) fn choose(
    degree: Degree,
    nodes: &mut [Node],
    stretches: &[Range<usize>],
    choice: Choice,
) -> Option<f64> {
    let grid = Grid::over(degree, nodes)?;
    let by_stretch = stretches.iter().map(|stretch| {
        let sums = grid.sums(stretch.clone(), |_| 1.0);
        let score = |fit: &Fit| {
            if choice.noise_known {
                fit.predicted_error(choice.cost, 1.0)
            } else {
                fit.cross_validation(choice.cost)
            }
        };
        let (place, log) = grid.least(&sums.iter().map(score).collect::<Vec<f64>>());
        (log, sums[place])
    });
    let (logs, fits): (Vec<f64>, Vec<Fit>) = by_stretch.unzip();
    let whole = fits.iter().fold(Fit::default(), |sum, fit| sum.with(fit, 1.0));
    let noise_scale = if choice.noise_known { 1.0 } else { whole.noise_scale().unwrap_or(1.0) };
    for (stretch, &usual) in stretches.iter().zip(&logs) {
        let windows =
            choice.window.map(|half| Windows { stretch, half, usual, cost: choice.cost, noise_scale });
        for first in stretch.clone().step_by(BLOCK) {
            let block = first..(first + BLOCK).min(stretch.end);
            let middle = block.start.midpoint(block.end);
            let log = windows.as_ref().map_or(usual, |windows| windows.strength(&grid, middle));
            nodes[block].iter_mut().for_each(|node| node.drive = 10.0_f64.powf(log));
        }
    }
    // The span that leads to a kink belongs to the stretch before it.
    for stretch in stretches.iter().skip(1) {
        nodes[stretch.start].drive = nodes[stretch.start - 1].drive;
    }
    Some(noise_scale)
}

/// Each node's share of the fit at each strength that could be estimated.
struct Grid {
    logs: Vec<f64>,
    /// Between two of them.
    step: f64,
    shares: Vec<Vec<Fit>>,
}

impl Grid {
    fn over(degree: Degree, nodes: &[Node]) -> Option<Self> {
        let share = f64::from(degree.power() + 1) / 8.0;
        let mut grid = Self { logs: Vec::new(), step: LOG_STEP * share, shares: Vec::new() };
        let mut log = LOG_RANGE.0;
        while log <= LOG_RANGE.1 {
            let drive = 10.0_f64.powf(log * share);
            let driven: Vec<Node> = nodes.iter().map(|node| Node { drive, ..*node }).collect();
            if let Some(found) = estimate(degree, &driven) {
                grid.logs.push(log * share);
                grid.shares.push(shares(&driven, &found));
            }
            log += LOG_STEP;
        }
        (!grid.logs.is_empty()).then_some(grid)
    }

    /// Weighted sums over some nodes, one for each strength.
    fn sums(&self, nodes: Range<usize>, weight: impl Fn(usize) -> f64) -> Vec<Fit> {
        let sum =
            |shares: &Vec<Fit>| nodes.clone().fold(Fit::default(), |sum, k| sum.with(&shares[k], weight(k)));
        self.shares.iter().map(sum).collect()
    }

    /// Place of the least score in the grid, and its logarithm refined by a parabola. Ties go to the smoother curve.
    fn least(&self, scores: &[f64]) -> (usize, f64) {
        let mut place = 0;
        for (i, score) in scores.iter().enumerate() {
            if *score < scores[place] - 1e-9 * scores[place].abs() {
                place = i;
            }
        }
        let log = self.logs[place];
        if place == 0 || place + 1 == scores.len() {
            return (place, log);
        }
        let (before, after) = (scores[place - 1] - scores[place], scores[place + 1] - scores[place]);
        let shift = 0.5 * (before - after) / (before + after);
        (place, if shift.is_finite() { log + shift * self.step } else { log })
    }
}

/// Windows that glide along one stretch.
struct Windows<'a> {
    stretch: &'a Range<usize>,
    half: usize,
    /// Logarithm of the strength chosen for the whole stretch.
    usual: f64,
    cost: f64,
    noise_scale: f64,
}

impl Windows<'_> {
    /// Logarithm of the strength about one node, from a triangular window that keeps within the stretch.
    fn strength(&self, grid: &Grid, k: usize) -> f64 {
        let (stretch, half) = (self.stretch, self.half);
        let inset = half / 2;
        let (low, high) = (stretch.start + inset, stretch.end.saturating_sub(1 + inset));
        let centre = if low < high { k.clamp(low, high) } else { stretch.start.midpoint(stretch.end) };
        let window = centre.saturating_sub(half).max(stretch.start)..(centre + half + 1).min(stretch.end);
        #[expect(clippy::cast_precision_loss, reason = "a window of some tens")]
        let weight = |i: usize| 1.0 - i.abs_diff(centre) as f64 / (half + 1) as f64;
        let sums = grid.sums(window, weight);
        let scores: Vec<f64> =
            sums.iter().map(|fit| fit.predicted_error(self.cost, self.noise_scale)).collect();
        grid.least(&scores).1.min(self.usual + MOST_ABOVE * grid.step)
    }
}

fn shares(nodes: &[Node], estimates: &[Estimate]) -> Vec<Fit> {
    let share = |(node, estimate): (&Node, &Estimate)| {
        node.sample.map_or(Fit::default(), |(value, variance)| Fit {
            rss: (value - estimate.state[0]).powi(2) / variance,
            trace: estimate.cov[0][0] / variance,
            n_samples: 1.0,
        })
    };
    nodes.iter().zip(estimates).map(share).collect()
}
