//! Fits of start, start speed, gain, offset, lag and the shapes of faults; the first three of these free or held near a known value.

use crate::shapes::Shape;
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

/// Places in the covariance; shapes follow from [`SHAPES`] on, the film speed comes last where it is doubtful.
pub(crate) const INVERSE_GAIN: usize = 2;
pub(crate) const OFFSET: usize = 3;
pub(crate) const LAG: usize = 4;
pub(crate) const SHAPES: usize = 5;

/// What is known beforehand: value and standard uncertainty; `None` leaves the term free.
#[derive(Debug, Clone, Default)]
pub(crate) struct Known {
    /// Of 1 / gain.
    pub(crate) inverse_gain: Option<(f64, f64)>,
    /// Of offset / gain, m/s².
    pub(crate) offset: Option<(f64, f64)>,
    /// Of the lag, s.
    pub(crate) lag: Option<(f64, f64)>,
    /// Faults of the record's shape that are fitted too.
    pub(crate) shapes: Vec<Shape>,
}

/// A settled fit.
#[derive(Debug, Clone)]
pub(crate) struct Fit {
    /// 1 / gain.
    pub(crate) inverse_gain: f64,
    /// Offset / gain, m/s².
    pub(crate) offset: f64,
    pub(crate) lag_s: f64,
    /// Sizes of the shapes' columns, over gain.
    pub(crate) shapes: Vec<f64>,
    /// Weighted sum of squares, with what is known beforehand.
    pub(crate) chi2: f64,
    /// Covariance of start, start speed, 1/gain, offset/gain, lag and the shapes.
    pub(crate) covariance: DMatrix<f64>,
    /// Film less fit, whitened.
    pub(crate) residual: DVector<f64>,
}

/// The lag in ±`search_s` at which gain and offset, both free, leave the smallest residual.
pub(crate) fn look_for_lag(system: &System<'_>, search_s: f64) -> Option<f64> {
    let mut best: Option<(f64, f64)> = None;
    let mut lag_s = -search_s;
    while lag_s <= search_s + 0.5 * LOOK_STEP_S {
        if let Some(here) = at_lag(system, lag_s, &Known::default())
            && best.is_none_or(|(_, chi2)| here.solved.chi2 < chi2)
        {
            best = Some((lag_s, here.solved.chi2));
        }
        lag_s += LOOK_STEP_S;
    }
    best.map(|(lag_s, _)| lag_s)
}

/// Gauss–Newton on the lag, the other terms solved exactly at each step; `None` when a free lag does not settle.
pub(crate) fn fit(system: &System<'_>, start_lag_s: f64, known: &Known) -> Option<Fit> {
    let mut lag_s = start_lag_s;
    let mut here = at_lag(system, lag_s, known)?;
    for _ in 0..MOST_STEPS {
        let full = full_solution(system, lag_s, &here, known)?;
        let mut step_s = full.values[LAG].clamp(-LARGEST_STEP_S, LARGEST_STEP_S);
        let mut there = at_lag(system, lag_s + step_s, known)?;
        while there.solved.chi2 > here.solved.chi2 && step_s.abs() > SETTLED_S {
            step_s *= 0.5;
            there = at_lag(system, lag_s + step_s, known)?;
        }
        lag_s += step_s;
        here = there;
        if step_s.abs() <= SETTLED_S {
            return settled(system, lag_s, &here, known);
        }
    }
    // A lag that is held has a value even where the channel is nothing like the film.
    known.lag.and_then(|_| settled(system, lag_s, &here, known))
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

/// All columns about one lag, with what is known of them, to try further columns on.
pub(crate) struct Around<'a> {
    system: &'a System<'a>,
    moving: Moving,
    by_lag: DVector<f64>,
    known: Vec<Option<(f64, f64)>>,
}

impl<'a> Around<'a> {
    /// About a lag; gain counts as `sign` in what the lag does.
    pub(crate) fn new(system: &'a System<'a>, lag_s: f64, sign: f64, known: &Known) -> Self {
        let moving = moving(system, lag_s, known);
        let difference = system.channel(lag_s + DERIVATIVE_S) - system.channel(lag_s - DERIVATIVE_S);
        let lag_change = known.lag.map(|(centre_s, u_s)| (centre_s - lag_s, u_s));
        let mut known_of = vec![None, None, known.inverse_gain, known.offset, lag_change];
        known_of.extend(&moving.known);
        known_of.push(None);
        Self { system, moving, by_lag: difference * (sign / (2.0 * DERIVATIVE_S)), known: known_of }
    }

    /// χ² and size of one more column.
    pub(crate) fn with(&self, column: &DVector<f64>) -> Option<(f64, f64)> {
        let system = self.system;
        let mut columns = vec![&system.one, &system.time, &self.moving.channel, &system.offset, &self.by_lag];
        columns.extend(self.moving.more.iter());
        columns.push(column);
        let solved = solve(&columns, &system.film, &self.known)?;
        Some((solved.chi2, solved.values[columns.len() - 1]))
    }
}

/// Columns that move with the lag, and what is known of them: the channel, then shapes, then film speed.
struct Moving {
    channel: DVector<f64>,
    more: Vec<DVector<f64>>,
    known: Vec<Option<(f64, f64)>>,
}

fn moving(system: &System<'_>, lag_s: f64, known: &Known) -> Moving {
    let mut more = Vec::new();
    let mut known_of = Vec::new();
    for shape in &known.shapes {
        more.extend(system.shape(shape, lag_s));
        known_of.extend(shape.known());
    }
    if system.film_speed_u > 0.0 {
        more.push(system.film_speed(lag_s));
        known_of.push(Some((0.0, system.film_speed_u)));
    }
    Moving { channel: system.channel(lag_s), more, known: known_of }
}

/// The fit at one lag.
struct AtLag {
    solved: Solution,
    moving: Moving,
}

fn at_lag(system: &System<'_>, lag_s: f64, known: &Known) -> Option<AtLag> {
    let moving = moving(system, lag_s, known);
    let mut columns = vec![&system.one, &system.time, &moving.channel, &system.offset];
    columns.extend(moving.more.iter());
    let mut known_of = vec![None, None, known.inverse_gain, known.offset];
    known_of.extend(&moving.known);
    let mut solved = solve(&columns, &system.film, &known_of)?;
    if let Some((centre_s, u_s)) = known.lag {
        solved.chi2 += ((lag_s - centre_s) / u_s).powi(2);
    }
    Some(AtLag { solved, moving })
}

/// All terms at once; that of the lag is its change.
fn full_solution(system: &System<'_>, lag_s: f64, here: &AtLag, known: &Known) -> Option<Solution> {
    let sizes = &here.solved.values;
    let explained = |at_s: f64| {
        let moved = moving(system, at_s, known);
        let mut sum = moved.channel * sizes[INVERSE_GAIN];
        for (column, size) in moved.more.iter().zip(sizes.iter().skip(LAG)) {
            sum.axpy(*size, column, 1.0);
        }
        sum
    };
    let by_lag = (explained(lag_s + DERIVATIVE_S) - explained(lag_s - DERIVATIVE_S)) / (2.0 * DERIVATIVE_S);
    let mut columns = vec![&system.one, &system.time, &here.moving.channel, &system.offset, &by_lag];
    columns.extend(here.moving.more.iter());
    let lag_change = known.lag.map(|(centre_s, u_s)| (centre_s - lag_s, u_s));
    let mut known_of = vec![None, None, known.inverse_gain, known.offset, lag_change];
    known_of.extend(&here.moving.known);
    solve(&columns, &system.film, &known_of)
}

fn settled(system: &System<'_>, lag_s: f64, here: &AtLag, known: &Known) -> Option<Fit> {
    let full = full_solution(system, lag_s, here, known)?;
    let n_shapes: usize = known.shapes.iter().map(|shape| shape.known().len()).sum();
    Some(Fit {
        inverse_gain: here.solved.values[INVERSE_GAIN],
        offset: here.solved.values[OFFSET],
        lag_s,
        shapes: here.solved.values.iter().skip(LAG).take(n_shapes).copied().collect(),
        chi2: here.solved.chi2,
        covariance: full.covariance,
        residual: here.solved.residual.clone(),
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
