//! A straight line with a kink: step, ramp or both in the acceleration from an unknown instant on.

use crate::least_squares::{Fitted, fitted};

/// Points of the grid over the onset's time.
const GRID: usize = 120;
/// Gauss-Newton steps.
const MAX_STEPS: usize = 30;

/// How the acceleration starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Start {
    /// At once, then constant.
    Step,
    /// From zero, growing evenly.
    Ramp,
    /// At once, then changing evenly.
    Both,
}

/// A fitted kink.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kink {
    pub(crate) time_s: f64,
    pub(crate) time_var: f64,
    pub(crate) speed_m_s: f64,
    pub(crate) speed_var: f64,
    pub(crate) chi2: f64,
    pub(crate) squares_m2: f64,
    pub(crate) bic: f64,
    pub(crate) n_parameters: usize,
}

/// Least squares over place, speed, start of the acceleration and its instant, the latter between the `bounds`.
pub(crate) fn fit(marks: &[(f64, f64, f64)], start: Start, bounds: (f64, f64)) -> Option<Kink> {
    let mut best: Option<(f64, Fitted<4>)> = None;
    for i in 0..=GRID {
        #[expect(clippy::cast_precision_loss, reason = "a grid of a hundred")]
        let time_s = bounds.0 + (bounds.1 - bounds.0) * i as f64 / GRID as f64;
        if let Some(here) = linear(marks, start, time_s)
            && best.is_none_or(|(_, best)| here.chi2 < best.chi2)
        {
            best = Some((time_s, here));
        }
    }
    let (mut time_s, mut linear_fit) = best?;
    let mut last = full(marks, start, time_s, &linear_fit)?;
    for _ in 0..MAX_STEPS {
        let step = last.value[4];
        let mut share = 1.0;
        // A step that does not improve the fit is halved: the slope by the time is only locally right.
        let next = loop {
            let trial_s = (time_s + share * step).clamp(bounds.0, bounds.1);
            match linear(marks, start, trial_s) {
                Some(trial) if trial.chi2 <= linear_fit.chi2 => break Some((trial_s, trial)),
                _ if share < 1e-3 => break None,
                _ => share *= 0.5,
            }
        };
        let Some((next_s, next_fit)) = next else { break };
        let moved_s = (next_s - time_s).abs();
        (time_s, linear_fit) = (next_s, next_fit);
        last = full(marks, start, time_s, &linear_fit)?;
        if moved_s < 1e-9 {
            break;
        }
    }
    Some(described(marks, start, time_s, &linear_fit, &last))
}

/// Residual sum of squares of a straight line; `None` where the marks do not determine one.
pub(crate) fn straight_chi2(marks: &[(f64, f64, f64)]) -> Option<f64> {
    let origin_s = marks.first()?.0;
    fitted::<2, 3>(marks.iter().map(|&(t, value, variance)| ([1.0, t - origin_s], value, variance)))
        .map(|line| line.chi2)
}

fn described(
    marks: &[(f64, f64, f64)],
    start: Start,
    time_s: f64,
    fit: &Fitted<4>,
    full: &Fitted<5>,
) -> Kink {
    let squares = marks.iter().map(|&(time, value, _)| {
        let row = slopes(time - time_s, start);
        (value - (0..4).map(|k| row[k] * fit.value[k]).sum::<f64>()).powi(2)
    });
    let n_parameters = if start == Start::Both { 5 } else { 4 };
    #[expect(clippy::cast_precision_loss, reason = "counts of marks")]
    let bic = fit.chi2 + n_parameters as f64 * (marks.len() as f64).ln();
    Kink {
        time_s,
        time_var: full.cov[4][4],
        speed_m_s: fit.value[1],
        speed_var: full.cov[1][1],
        chi2: fit.chi2,
        squares_m2: squares.sum(),
        bic,
        n_parameters,
    }
}

/// Place, speed, step and ramp for a given instant. The term that the start leaves out gets a column of its own that
/// no mark sees, held at zero by one extra row.
fn linear(marks: &[(f64, f64, f64)], start: Start, time_s: f64) -> Option<Fitted<4>> {
    let rows = marks.iter().map(|&(time, value, variance)| (slopes(time - time_s, start), value, variance));
    fitted::<4, 5>(rows.chain(held(start).map(|row| (row, 0.0, 1.0))))
}

/// The same with the instant as fifth parameter: its value is the Gauss-Newton step.
fn full(marks: &[(f64, f64, f64)], start: Start, time_s: f64, at: &Fitted<4>) -> Option<Fitted<5>> {
    // The line's origin stays where it is: only the acceleration's part of the curve moves with the instant.
    let rows = marks.iter().map(|&(time, value, variance)| {
        let row = slopes(time - time_s, start);
        let residual = value - (0..4).map(|k| row[k] * at.value[k]).sum::<f64>();
        let after = (time - time_s).max(0.0);
        let speed_gained = at.value[2] * after + 0.5 * at.value[3] * after * after;
        ([row[0], row[1], row[2], row[3], -speed_gained], residual, variance)
    });
    let held = held(start).map(|row| ([row[0], row[1], row[2], row[3], 0.0], 0.0, 1.0));
    fitted::<5, 6>(rows.chain(held))
}

fn slopes(t: f64, start: Start) -> [f64; 4] {
    let after = t.max(0.0);
    let (step, ramp) = (0.5 * after * after, after * after * after / 6.0);
    match start {
        Start::Step => [1.0, t, step, 0.0],
        Start::Ramp => [1.0, t, 0.0, ramp],
        Start::Both => [1.0, t, step, ramp],
    }
}

fn held(start: Start) -> impl Iterator<Item = [f64; 4]> {
    let row = match start {
        Start::Step => Some([0.0, 0.0, 0.0, 1.0]),
        Start::Ramp => Some([0.0, 0.0, 1.0, 0.0]),
        Start::Both => None,
    };
    row.into_iter()
}
