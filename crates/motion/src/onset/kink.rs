//! A straight line with a kink: from an unknown instant on, the acceleration rises evenly for a given time, then holds.

use crate::least_squares::{Fitted, fitted};

/// Points of the grid over the onset's time.
const GRID: usize = 120;
/// Gauss-Newton steps.
const MAX_STEPS: usize = 30;

/// A fitted kink.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kink {
    pub(crate) time_s: f64,
    pub(crate) time_var: f64,
    pub(crate) speed_m_s: f64,
    pub(crate) speed_var: f64,
    pub(crate) chi2: f64,
    pub(crate) squares_m2: f64,
}

/// Parameters of a kink: place, speed, acceleration and instant.
pub(crate) const N_PARAMETERS: usize = 4;

/// Least squares over place, speed, acceleration and its instant, the latter between the `bounds`.
pub(crate) fn fit(marks: &[(f64, f64, f64)], rise_s: f64, bounds: (f64, f64)) -> Option<Kink> {
    let mut best: Option<(f64, Fitted<3>)> = None;
    for i in 0..=GRID {
        #[expect(clippy::cast_precision_loss, reason = "a grid of a hundred")]
        let time_s = bounds.0 + (bounds.1 - bounds.0) * i as f64 / GRID as f64;
        if let Some(here) = linear(marks, rise_s, time_s)
            && best.is_none_or(|(_, best)| here.chi2 < best.chi2)
        {
            best = Some((time_s, here));
        }
    }
    let (mut time_s, mut at) = best?;
    let mut last = full(marks, rise_s, time_s, &at)?;
    for _ in 0..MAX_STEPS {
        let Some((next_s, next)) = improved(marks, rise_s, bounds, (time_s, &at), last.value[3]) else {
            break;
        };
        let moved_s = (next_s - time_s).abs();
        (time_s, at) = (next_s, next);
        last = full(marks, rise_s, time_s, &at)?;
        if moved_s < 1e-9 {
            break;
        }
    }
    let squares = marks.iter().map(|&(time, value, _)| (value - curve(&at, rise_s, time - time_s)).powi(2));
    Some(Kink {
        time_s,
        time_var: last.cov[3][3],
        speed_m_s: at.value[1],
        speed_var: last.cov[1][1],
        chi2: at.chi2,
        squares_m2: squares.sum(),
    })
}

/// Residual sum of squares of a straight line; `None` where the marks do not determine one.
pub(crate) fn straight_chi2(marks: &[(f64, f64, f64)]) -> Option<f64> {
    let origin_s = marks.first()?.0;
    fitted::<2, 3>(marks.iter().map(|&(t, value, variance)| ([1.0, t - origin_s], value, variance)))
        .map(|line| line.chi2)
}

/// A step in time that lessens the residuals: halved until it does, as the slope by the time is only locally right.
fn improved(
    marks: &[(f64, f64, f64)],
    rise_s: f64,
    bounds: (f64, f64),
    (time_s, at): (f64, &Fitted<3>),
    step_s: f64,
) -> Option<(f64, Fitted<3>)> {
    let mut share = 1.0;
    while share > 1e-3 {
        let trial_s = (time_s + share * step_s).clamp(bounds.0, bounds.1);
        if let Some(trial) = linear(marks, rise_s, trial_s)
            && trial.chi2 <= at.chi2
        {
            return Some((trial_s, trial));
        }
        share *= 0.5;
    }
    None
}

/// Place and speed at the kink and acceleration, for a given instant.
fn linear(marks: &[(f64, f64, f64)], rise_s: f64, time_s: f64) -> Option<Fitted<3>> {
    fitted::<3, 4>(
        marks.iter().map(|&(time, value, variance)| (slopes(time - time_s, rise_s), value, variance)),
    )
}

/// The same with the instant as fourth parameter: its value is the Gauss-Newton step. The line's origin stays where it
/// is; only the acceleration's part of the curve moves with the instant.
fn full(marks: &[(f64, f64, f64)], rise_s: f64, time_s: f64, at: &Fitted<3>) -> Option<Fitted<4>> {
    fitted::<4, 5>(marks.iter().map(|&(time, value, variance)| {
        let t = time - time_s;
        let [place, speed, acceleration] = slopes(t, rise_s);
        let by_time = -at.value[2] * travel(t, rise_s).1;
        ([place, speed, acceleration, by_time], value - curve(at, rise_s, t), variance)
    }))
}

fn curve(at: &Fitted<3>, rise_s: f64, t: f64) -> f64 {
    slopes(t, rise_s).iter().zip(at.value).map(|(slope, value)| slope * value).sum()
}

fn slopes(t: f64, rise_s: f64) -> [f64; 3] {
    [1.0, t, travel(t, rise_s).0]
}

/// Travel and speed gained `t` after the kink, for an acceleration that reaches 1.
fn travel(t: f64, rise_s: f64) -> (f64, f64) {
    let s = t.max(0.0);
    if s < rise_s {
        return (s * s * s / (6.0 * rise_s), s * s / (2.0 * rise_s));
    }
    let held = s - rise_s;
    (rise_s * rise_s / 6.0 + 0.5 * held * (rise_s + held), 0.5 * rise_s + held)
}
