//! How strong the driving noise of one stretch must be: a criterion, minimised over a grid and refined.

use crate::spline::{Node, estimate};

/// Least and greatest driving noise tried, decimal logarithm of unit² per step⁷ at unit noise: from a cubic over the
/// whole film to next to no smoothing.
const LOG_RANGE: (f64, f64) = (-17.0, 2.0);
/// Spacing of the grid, decades.
const LOG_STEP: f64 = 1.0;
/// Width at which the golden section stops, decades.
const LOG_TOLERANCE: f64 = 0.05;
/// Inner point of the golden section.
const GOLDEN: f64 = 0.618_033_988_749_895;

/// What is minimised.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Criterion {
    /// Generalised cross-validation: n RSS / (n - g tr A)², with the cost `g` of one equivalent parameter.
    Validation { cost: f64 },
    /// Predicted mean squared error with known variances: RSS + 2 tr A.
    PredictedError,
}

/// Fit of one stretch: residual sum of squares over the variances, trace of the hat matrix, number of samples.
#[derive(Debug, Clone, Copy)]
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

    fn score(&self, criterion: Criterion) -> f64 {
        match criterion {
            Criterion::PredictedError => self.rss + 2.0 * self.trace,
            Criterion::Validation { cost } => {
                let freedom = self.n_samples - cost * self.trace;
                if freedom > 0.0 { self.rss * self.n_samples / (freedom * freedom) } else { f64::INFINITY }
            }
        }
    }
}

/// Residuals and trace of estimated nodes. The trace is the sum of posterior over sample variances.
pub(crate) fn fit(nodes: &[Node], estimates: &[crate::spline::Estimate]) -> Fit {
    let mut fit = Fit { rss: 0.0, trace: 0.0, n_samples: 0.0 };
    for (node, estimate) in nodes.iter().zip(estimates) {
        if let Some((value, variance)) = node.sample {
            fit.rss += (value - estimate.state[0]).powi(2) / variance;
            fit.trace += estimate.cov[0][0] / variance;
            fit.n_samples += 1.0;
        }
    }
    fit
}

/// The driving noise of a stretch that minimises the criterion; `None` where the stretch cannot be fitted.
/// The grid is walked from smooth to rough and ties go to the smoother curve.
pub(crate) fn choose(stretch: &[Node], criterion: Criterion) -> Option<f64> {
    let score = |log: f64| {
        let driven = driven(stretch, 10.0_f64.powf(log));
        estimate(&driven).map_or(f64::INFINITY, |found| fit(&driven, &found).score(criterion))
    };
    let mut best = (LOG_RANGE.0, f64::INFINITY);
    let mut log = LOG_RANGE.0;
    while log <= LOG_RANGE.1 {
        let here = score(log);
        if here < best.1 * (1.0 - 1e-9) {
            best = (log, here);
        }
        log += LOG_STEP;
    }
    best.1.is_finite().then(|| 10.0_f64.powf(refined(best.0, score)))
}

/// The stretch with one driving noise throughout and no kink at its start.
pub(crate) fn driven(stretch: &[Node], drive: f64) -> Vec<Node> {
    stretch.iter().map(|node| Node { drive, ..*node }).collect()
}

fn refined(centre: f64, score: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (centre - LOG_STEP, centre + LOG_STEP);
    let mut left = high - GOLDEN * (high - low);
    let mut right = low + GOLDEN * (high - low);
    let (mut at_left, mut at_right) = (score(left), score(right));
    while high - low > LOG_TOLERANCE {
        if at_left <= at_right {
            (high, right, at_right) = (right, left, at_left);
            left = high - GOLDEN * (high - low);
            at_left = score(left);
        } else {
            (low, left, at_left) = (left, right, at_right);
            right = low + GOLDEN * (high - low);
            at_right = score(right);
        }
    }
    0.5 * (low + high)
}
