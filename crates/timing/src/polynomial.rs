//! A polynomial of the frame coordinate with covariance, its terms counted from a pivot where only the first is left.

use crate::least_squares::{Solved, solve};
use nalgebra::{DMatrix, DVector};

/// t(n) = c₀ + Σ cₖ (zᵏ − z₀ᵏ), with z = (n − centre) / half-span. At the pivot z₀ it is c₀ exactly.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Polynomial {
    pub(crate) centre: f64,
    pub(crate) half_span: f64,
    pub(crate) pivot: f64,
    pub(crate) terms: DVector<f64>,
    pub(crate) covariance: DMatrix<f64>,
}

/// A fitted polynomial with what tells how well it fits.
#[derive(Debug, Clone)]
pub(crate) struct FittedPolynomial {
    pub(crate) polynomial: Polynomial,
    pub(crate) solved: Solved,
}

impl Polynomial {
    /// Highest power.
    pub(crate) fn degree(&self) -> usize {
        self.terms.len().saturating_sub(1)
    }

    fn powers(&self, frame: f64) -> DVector<f64> {
        powers((frame - self.centre) / self.half_span, self.pivot, self.terms.len())
    }

    /// Derivative of each term with respect to the frame coordinate.
    fn slopes(&self, frame: f64) -> DVector<f64> {
        let z = (frame - self.centre) / self.half_span;
        let mut power = 1.0 / self.half_span;
        DVector::from_iterator(
            self.terms.len(),
            (0..self.terms.len()).map(|term| {
                if term == 0 {
                    return 0.0;
                }
                let slope = whole(term) * power;
                power *= z;
                slope
            }),
        )
    }

    fn reading(&self, weights: &DVector<f64>) -> (f64, f64) {
        let variance = weights.dot(&(&self.covariance * weights));
        (self.terms.dot(weights), variance.max(0.0))
    }

    /// Value and variance.
    pub(crate) fn value(&self, frame: f64) -> (f64, f64) {
        self.reading(&self.powers(frame))
    }

    /// Value at `to` less value at `from`, and its variance.
    pub(crate) fn difference(&self, from: f64, to: f64) -> (f64, f64) {
        self.reading(&(self.powers(to) - self.powers(from)))
    }

    /// Slope and its variance.
    pub(crate) fn slope(&self, frame: f64) -> (f64, f64) {
        self.reading(&self.slopes(frame))
    }

    /// The same curve, moved so that it is exactly `value` at `frame`.
    pub(crate) fn through(&self, frame: f64, value: f64) -> Self {
        let mut moved = self.clone();
        moved.pivot = (frame - self.centre) / self.half_span;
        if let Some(first) = moved.terms.get_mut(0) {
            *first = value;
            moved.covariance.row_mut(0).fill(0.0);
            moved.covariance.column_mut(0).fill(0.0);
        }
        moved
    }
}

/// Fits a polynomial of the given degree, free or held at a value at a frame.
pub(crate) fn fit(
    frames: &[f64],
    values: &[f64],
    u: &[f64],
    degree: usize,
    held: Option<(f64, f64)>,
) -> Option<FittedPolynomial> {
    let (first, last) = (frames.first()?, frames.last()?);
    let centre = 0.5 * (first + last);
    let reach = held.map_or(0.0, |(frame, _)| (frame - centre).abs());
    let half_span = (0.5 * (last - first)).max(reach);
    if half_span.is_nan() || half_span <= 0.0 {
        return None;
    }
    let pivot = held.map_or(0.0, |(frame, _)| (frame - centre) / half_span);
    let skipped = usize::from(held.is_some());
    let rows: Vec<DVector<f64>> =
        frames.iter().map(|frame| powers((frame - centre) / half_span, pivot, degree + 1)).collect();
    let design = DMatrix::from_fn(frames.len(), degree + 1 - skipped, |row, term| rows[row][term + skipped]);
    let base = held.map_or(0.0, |(_, value)| value);
    let data = DVector::from_iterator(values.len(), values.iter().map(|value| value - base));
    let solved = solve(&design, &data, u)?;
    let mut terms = DVector::zeros(degree + 1);
    let mut covariance = DMatrix::zeros(degree + 1, degree + 1);
    terms.rows_mut(skipped, degree + 1 - skipped).copy_from(&solved.values);
    let size = (degree + 1 - skipped, degree + 1 - skipped);
    covariance.view_mut((skipped, skipped), size).copy_from(&solved.covariance);
    terms[0] += base;
    Some(FittedPolynomial { polynomial: Polynomial { centre, half_span, pivot, terms, covariance }, solved })
}

#[expect(clippy::cast_precision_loss, reason = "a power below ten")]
fn whole(term: usize) -> f64 {
    term as f64
}

fn powers(z: f64, pivot: f64, n_terms: usize) -> DVector<f64> {
    let (mut power, mut at_pivot) = (1.0, 1.0);
    DVector::from_iterator(
        n_terms,
        (0..n_terms).map(|term| {
            if term == 0 {
                return 1.0;
            }
            power *= z;
            at_pivot *= pivot;
            power - at_pivot
        }),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn recovers_a_cubic_and_passes_its_pivot() {
        let frames: Vec<f64> = (0..9).map(|k| 12.0 * f64::from(k)).collect();
        let cubic = |n: f64| 0.5 + 1e-3 * n - 2e-7 * n * n + 3e-10 * n.powi(3);
        let values: Vec<f64> = frames.iter().map(|&n| cubic(n)).collect();
        for held in [None, Some((200.0, cubic(200.0)))] {
            let found = fit(&frames, &values, &[1e-5; 9], 3, held).unwrap().polynomial;
            assert!((found.value(55.0).0 - cubic(55.0)).abs() < 1e-12);
            let slope = 1e-3 - 4e-7 * 55.0 + 9e-10 * 55.0 * 55.0;
            assert!((found.slope(55.0).0 - slope).abs() < 1e-13);
            let moved = found.through(30.0, 7.0);
            assert!((moved.value(55.0).0 - (cubic(55.0) - cubic(30.0) + 7.0)).abs() < 1e-12);
            assert!(moved.value(30.0).1 < 1e-20);
            assert!((moved.difference(20.0, 60.0).1 - found.difference(20.0, 60.0).1).abs() < 1e-15);
        }
    }
}
