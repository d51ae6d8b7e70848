//! First paths of the bundle: marks between a camera's frames, a spline through places, and the smoothness that fills gaps.

use super::bundle::CameraMark;
use super::curve::Knots;
use super::normals::TrackEquations;
use filmgauge_quantities::PixelPoint;
use nalgebra::{DMatrix, DVector, Vector3};

/// Marks further apart bridge nothing, in spacings of the nearest ones.
const WIDEST_GAP: f64 = 3.0;

/// The place in a camera's picture at an instant between two of its marks, in order of time; `None` outside them or in a gap.
pub(super) fn between(marks: &[&CameraMark], time_s: f64) -> Option<PixelPoint> {
    let after = marks.partition_point(|mark| mark.time_s < time_s);
    if let Some(mark) = marks.get(after).filter(|mark| mark.time_s <= time_s) {
        return Some(mark.seen);
    }
    let (a, b) = (marks.get(after.checked_sub(1)?)?, marks.get(after)?);
    let usual_s = (marks.last()?.time_s - marks.first()?.time_s) / (marks.len() - 1) as f64;
    if b.time_s - a.time_s > WIDEST_GAP * usual_s {
        return None;
    }
    let share = (time_s - a.time_s) / (b.time_s - a.time_s);
    Some(a.seen.moved(share * (b.seen.x - a.seen.x), share * (b.seen.y - a.seen.y)))
}

/// Coefficients of the spline through places, each good to a centimetre; `None` without places.
pub(super) fn through(
    knots: &Knots,
    places: &[(f64, Vector3<f64>)],
    acceleration_m_s2: f64,
) -> Option<DVector<f64>> {
    if places.is_empty() {
        return None;
    }
    let n = knots.n_coefficients();
    let mut equations = TrackEquations::zeros(n, 0);
    for (time_s, at) in places {
        let weights = knots.weights(*time_s);
        let terms: Vec<(usize, f64)> = (0..4).map(|k| (weights.first + k, weights.value[k])).collect();
        for axis in 0..3 {
            equations.add_prior(axis, &terms, at[axis], 1e4);
        }
    }
    let bend = acceleration_m_s2 * knots.step_s.powi(2);
    add_smoothness(&mut equations, &DVector::zeros(3 * n), bend);
    // One place alone leaves the slope open: a still point is as good as any to start from.
    for axis in 0..3 {
        for k in 1..n {
            equations.add_prior(axis, &[(k - 1, -1.0), (k, 1.0)], 0.0, 1e-6);
        }
    }
    let factor = equations.band.factored()?;
    Some(factor.solve(&DMatrix::from_columns(&[equations.right])).column(0).into_owned())
}

/// Adds that second differences of the coefficients are 0 with the standard deviation `bend_m`; their χ².
pub(super) fn add_smoothness(
    equations: &mut TrackEquations,
    coefficients: &DVector<f64>,
    bend_m: f64,
) -> f64 {
    let (n, weight) = (coefficients.len() / 3, bend_m.powi(-2));
    let mut chi2 = 0.0;
    for axis in 0..3 {
        for k in 2..n {
            let at = |i: usize| coefficients[3 * i + axis];
            let second = at(k - 2) - 2.0 * at(k - 1) + at(k);
            equations.add_prior(axis, &[(k - 2, 1.0), (k - 1, -2.0), (k, 1.0)], -second, weight);
            chi2 += weight * second * second;
        }
    }
    chi2
}
