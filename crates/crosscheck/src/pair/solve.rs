//! Gain, offset, lag and moved zero of a pair by Gauss–Newton with the variance of both.

use super::blocks::Blocks;
use crate::Measured;
use nalgebra::{DMatrix, DVector};

/// Most rounds, and the change of the lag at which it ends, s.
const MOST_ROUNDS: usize = 30;
const SETTLED_S: f64 = 1e-9;
/// The slope in the lag is taken over this share of a block to either side: less would let noise into it.
const SLOPE_SHARE: f64 = 0.25;
/// The lag moves by at most this share of a block in a round.
const LARGEST_MOVE: f64 = 0.5;

/// What is fitted beside gain, offset and lag.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Terms {
    /// The judged one's zero moves at this instant of the reference's clock.
    pub(super) step_s: Option<f64>,
}

/// A fit.
pub(super) struct Solved {
    pub(super) gain: Measured,
    pub(super) offset: Measured,
    pub(super) lag_s: Measured,
    pub(super) step: Option<Measured>,
    pub(super) chi2: f64,
    pub(super) agreement: f64,
}

pub(super) fn solve(blocks: &Blocks<'_>, variances: [f64; 2], lag_s: f64, terms: &Terms) -> Solved {
    let after = terms.step_s.map(|from_s| blocks.after(from_s));
    let n_terms = 3 + usize::from(after.is_some());
    let sign = if blocks.correlation(lag_s) < 0.0 { -1.0 } else { 1.0 };
    let mut at = DVector::zeros(n_terms);
    (at[0], at[2]) = (sign, lag_s);
    let mut round = 0;
    loop {
        let (residual, slopes) = linear(blocks, variances, &at, after.as_deref());
        let normal = slopes.transpose() * &slopes;
        let step = normal.clone().cholesky().map(|root| -root.solve(&(slopes.transpose() * &residual)));
        let far_s = LARGEST_MOVE * blocks.length_s;
        let step = step.unwrap_or_else(|| DVector::zeros(n_terms));
        let share = (far_s / step[2].abs()).min(1.0);
        round += 1;
        if round >= MOST_ROUNDS || (step[2].abs() < SETTLED_S && step[0].abs() < 1e-9) {
            return told(blocks, &at, &residual, normal, after.is_some());
        }
        at += step * share;
    }
}

/// Residuals over their spread, and their slopes in gain, offset, lag and step.
fn linear(
    blocks: &Blocks<'_>,
    [reference, judged]: [f64; 2],
    at: &DVector<f64>,
    after: Option<&[f64]>,
) -> (DVector<f64>, DMatrix<f64>) {
    let (gain, offset, lag_s) = (at[0], at[1], at[2]);
    let near_s = SLOPE_SHARE * blocks.length_s;
    let (early, late) = (blocks.judged(lag_s - near_s), blocks.judged(lag_s + near_s));
    let (a, b) = (blocks.reference(), blocks.judged(lag_s));
    let variance = judged + gain * gain * reference;
    let spread = variance.sqrt();
    let raw = |k: usize| b[k] - gain * a[k] - offset - after.map_or(0.0, |after| at[3] * after[k]);
    let residual = DVector::from_fn(a.len(), |k, _| raw(k) / spread);
    let slopes = DMatrix::from_fn(a.len(), at.len(), |k, term| match term {
        0 => -a[k] / spread - raw(k) * gain * reference / (variance * spread),
        1 => -1.0 / spread,
        2 => (late[k] - early[k]) / (2.0 * near_s) / spread,
        _ => -after.map_or(0.0, |after| after[k]) / spread,
    });
    (residual, slopes)
}

fn told(
    blocks: &Blocks<'_>,
    at: &DVector<f64>,
    residual: &DVector<f64>,
    normal: DMatrix<f64>,
    stepped: bool,
) -> Solved {
    let freedom = (blocks.count() - if stepped { 5.0 } else { 3.0 }).max(1.0);
    let chi2 = residual.norm_squared();
    let widening = (chi2 / freedom).max(1.0) * if chi2 > 1.1 * freedom { drawn_out(residual) } else { 1.0 };
    let covariance = normal.cholesky().map(|root| root.inverse());
    let u = |k: usize| covariance.as_ref().map_or(f64::INFINITY, |cov| (cov[(k, k)] * widening).sqrt());
    let figure = |k: usize| Measured { value: at[k], u: u(k) };
    Solved {
        gain: figure(0),
        offset: figure(1),
        lag_s: figure(2),
        step: stepped.then(|| figure(3)),
        chi2,
        agreement: (chi2 / freedom).sqrt(),
    }
}

/// By how much residuals that go on from block to block count less: 1 + 2 Σ ρ up to the first ρ that is not positive.
fn drawn_out(residual: &DVector<f64>) -> f64 {
    let (values, power) = (residual.as_slice(), residual.norm_squared());
    let rho = |lag: usize| values.iter().zip(&values[lag..]).map(|(a, b)| a * b).sum::<f64>() / power;
    1.0 + 2.0 * (1..values.len() / 2).map(rho).take_while(|&rho| rho > 0.0).sum::<f64>()
}
