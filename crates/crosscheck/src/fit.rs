//! Fits of start, start speed, gain, offset and lag, each of the last three free or held near a known value.

use crate::system::System;
use nalgebra::{DMatrix, DVector};

/// Spacing of the first look at lags, s: well below the width of the minimum in displacement.
const LOOK_STEP_S: f64 = 0.0005;
/// Half-distance for the derivative with respect to the lag, s.
const DERIVATIVE_S: f64 = 0.0001;
/// A lag that moves by less than this has settled, s.
const SETTLED_S: f64 = 1e-8;
/// Largest change of the lag in one step, s.
const LARGEST_STEP_S: f64 = 0.002;
/// Steps after which a lag that has not settled is given up.
const MOST_STEPS: usize = 40;

/// What is known beforehand: value and standard uncertainty; `None` leaves the term free.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Known {
    /// Of 1 / gain.
    pub(crate) inverse_gain: Option<(f64, f64)>,
    /// Of offset / gain, m/s².
    pub(crate) offset: Option<(f64, f64)>,
    /// Of the lag, s.
    pub(crate) lag: Option<(f64, f64)>,
}

/// A settled fit.
#[derive(Debug, Clone)]
pub(crate) struct Fit {
    /// 1 / gain.
    pub(crate) inverse_gain: f64,
    /// Offset / gain, m/s².
    pub(crate) offset: f64,
    pub(crate) lag_s: f64,
    /// Weighted sum of squares, with what is known beforehand.
    pub(crate) chi2: f64,
    /// Covariance of start, start speed, 1/gain, offset/gain and lag.
    pub(crate) covariance: DMatrix<f64>,
    /// Film less fit, whitened.
    pub(crate) residual: DVector<f64>,
}

/// The lag in ±`search_s` at which gain and offset, both free, leave the smallest residual.
pub(crate) fn look_for_lag(system: &System<'_>, search_s: f64) -> Option<f64> {
    let mut best: Option<(f64, f64)> = None;
    let mut lag_s = -search_s;
    while lag_s <= search_s + 0.5 * LOOK_STEP_S {
        if let Some(solved) = at_lag(system, lag_s, &Known::default())
            && best.is_none_or(|(_, chi2)| solved.chi2 < chi2)
        {
            best = Some((lag_s, solved.chi2));
        }
        lag_s += LOOK_STEP_S;
    }
    best.map(|(lag_s, _)| lag_s)
}

/// Gauss–Newton on the lag, the other terms solved exactly at each step; `None` when it does not settle.
pub(crate) fn fit(system: &System<'_>, start_lag_s: f64, known: &Known) -> Option<Fit> {
    let mut lag_s = start_lag_s;
    let mut here = at_lag(system, lag_s, known)?;
    for _ in 0..MOST_STEPS {
        let mut step_s = full_solution(system, lag_s, here.values[2], known)?.values[4];
        step_s = step_s.clamp(-LARGEST_STEP_S, LARGEST_STEP_S);
        let mut there = at_lag(system, lag_s + step_s, known)?;
        while there.chi2 > here.chi2 && step_s.abs() > SETTLED_S {
            step_s *= 0.5;
            there = at_lag(system, lag_s + step_s, known)?;
        }
        lag_s += step_s;
        here = there;
        if step_s.abs() <= SETTLED_S {
            return settled(system, lag_s, &here, known);
        }
    }
    None
}

/// χ² of the film about a straight line and an offset: how much motion there is for a channel to follow.
pub(crate) fn motion_chi2(system: &System<'_>) -> Option<f64> {
    solve(&[&system.one, &system.time, &system.offset], &system.film, &[None; 3]).map(|solved| solved.chi2)
}

/// Correlation of film and channel when start, start speed and offset are taken out of both.
pub(crate) fn correlation(system: &System<'_>, lag_s: f64) -> Option<f64> {
    let columns = [&system.one, &system.time, &system.offset];
    let film = solve(&columns, &system.film, &[None; 3])?.residual;
    let channel = solve(&columns, &system.channel(lag_s), &[None; 3])?.residual;
    let size = film.norm() * channel.norm();
    (size > 0.0).then(|| film.dot(&channel) / size)
}

fn at_lag(system: &System<'_>, lag_s: f64, known: &Known) -> Option<Solution> {
    let channel = system.channel(lag_s);
    let columns = [&system.one, &system.time, &channel, &system.offset];
    let mut solved = solve(&columns, &system.film, &[None, None, known.inverse_gain, known.offset])?;
    if let Some((centre_s, u_s)) = known.lag {
        solved.chi2 += ((lag_s - centre_s) / u_s).powi(2);
    }
    Some(solved)
}

/// All five terms at once; the fifth is the change of the lag.
fn full_solution(system: &System<'_>, lag_s: f64, inverse_gain: f64, known: &Known) -> Option<Solution> {
    let channel = system.channel(lag_s);
    let ahead = system.channel(lag_s + DERIVATIVE_S);
    let behind = system.channel(lag_s - DERIVATIVE_S);
    let by_lag = (ahead - behind) * (inverse_gain / (2.0 * DERIVATIVE_S));
    let columns = [&system.one, &system.time, &channel, &system.offset, &by_lag];
    let lag_change = known.lag.map(|(centre_s, u_s)| (centre_s - lag_s, u_s));
    solve(&columns, &system.film, &[None, None, known.inverse_gain, known.offset, lag_change])
}

fn settled(system: &System<'_>, lag_s: f64, here: &Solution, known: &Known) -> Option<Fit> {
    let full = full_solution(system, lag_s, here.values[2], known)?;
    Some(Fit {
        inverse_gain: here.values[2],
        offset: here.values[3],
        lag_s,
        chi2: here.chi2,
        covariance: full.covariance,
        residual: here.residual.clone(),
    })
}

struct Solution {
    values: DVector<f64>,
    covariance: DMatrix<f64>,
    chi2: f64,
    residual: DVector<f64>,
}

/// Least squares by normal equations of columns scaled to unit length; `None` when they are not independent.
fn solve(columns: &[&DVector<f64>], film: &DVector<f64>, known: &[Option<(f64, f64)>]) -> Option<Solution> {
    let n_terms = columns.len();
    let mut normal = DMatrix::from_fn(n_terms, n_terms, |i, j| columns[i].dot(columns[j]));
    let mut right = DVector::from_fn(n_terms, |i, _| columns[i].dot(film));
    for (term, (value, u)) in
        known.iter().enumerate().filter_map(|(term, known)| known.map(|known| (term, known)))
    {
        normal[(term, term)] += 1.0 / (u * u);
        right[term] += value / (u * u);
    }
    let scale = normal.diagonal().map(f64::sqrt);
    if scale.iter().any(|&size| !(size.is_finite() && size > 0.0)) {
        return None;
    }
    let scaled = DMatrix::from_fn(n_terms, n_terms, |i, j| normal[(i, j)] / (scale[i] * scale[j]));
    let inverse = scaled.cholesky()?.inverse();
    let covariance = DMatrix::from_fn(n_terms, n_terms, |i, j| inverse[(i, j)] / (scale[i] * scale[j]));
    let values = &covariance * right;
    let mut residual = film.clone();
    for (column, value) in columns.iter().zip(values.iter()) {
        residual.axpy(-value, column, 1.0);
    }
    let from_known = known
        .iter()
        .zip(values.iter())
        .filter_map(|(known, value)| known.map(|(v, u)| ((value - v) / u).powi(2)));
    let chi2 = residual.norm_squared() + from_known.sum::<f64>();
    (chi2.is_finite() && values.iter().all(|value| value.is_finite())).then_some(Solution {
        values,
        covariance,
        chi2,
        residual,
    })
}
