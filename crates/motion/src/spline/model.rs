//! The moving point as a chain of states: value and three derivatives, driven by white noise in the fourth.
//!
//! The best estimate under this model is the smoothing spline of degree 7 (Wahba 1978, J. R. Statist. Soc. B 40:364;
//! Wecker and Ansley 1983, J. Am. Statist. Assoc. 78:81). Time counts in steps, derivatives are per step, so that
//! all entries are of one order.

use crate::matrix::{Matrix4, diagonal, sum};

/// Factorials of 0 to 3.
const FACTORIAL: [f64; 4] = [1.0, 1.0, 2.0, 6.0];

/// One instant at which the state is estimated.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Node {
    /// Time in steps from the first node.
    pub(crate) at: f64,
    /// Measured value and its variance, where there is one.
    pub(crate) sample: Option<(f64, f64)>,
    /// Driving noise from the previous node to this one, unit² per step⁷.
    pub(crate) drive: f64,
    /// Variances added to the state just before this node: a kink. All zero elsewhere.
    pub(crate) jump: [f64; 4],
}

/// Takes a state `span` steps ahead: F_ij = span^(j-i) / (j-i)!.
pub(crate) fn transition(span: f64) -> Matrix4 {
    let entry = |i: usize, j: usize| {
        if j < i { 0.0 } else { power(span, j - i) / FACTORIAL[j - i] }
    };
    std::array::from_fn(|i| std::array::from_fn(|j| entry(i, j)))
}

/// Covariance that driving noise of unit strength gathers over `span` steps:
/// Q_ij = span^(7-i-j) / ((7-i-j) (3-i)! (3-j)!).
pub(crate) fn gathered(span: f64) -> Matrix4 {
    #[expect(clippy::cast_precision_loss, reason = "1 to 7")]
    let entry = |i: usize, j: usize| {
        power(span, 7 - i - j) / ((7 - i - j) as f64 * FACTORIAL[3 - i] * FACTORIAL[3 - j])
    };
    std::array::from_fn(|i| std::array::from_fn(|j| entry(i, j)))
}

/// Covariance gathered from the previous node, `span` steps before, to this one.
pub(crate) fn gathered_to(node: &Node, span: f64) -> Matrix4 {
    sum(&gathered(span).map(|row| row.map(|entry| entry * node.drive)), &diagonal(node.jump))
}

fn power(base: f64, exponent: usize) -> f64 {
    (0..exponent).fold(1.0, |product, _| product * base)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::matrix::sandwich;

    #[test]
    fn two_short_spans_make_a_long_one() {
        let (first, second) = (0.7, 1.9);
        let joined = sum(&sandwich(&transition(second), &gathered(first)), &gathered(second));
        let whole = gathered(first + second);
        for (a, b) in joined.iter().flatten().zip(whole.iter().flatten()) {
            assert!((a - b).abs() < 1e-12 * b.abs());
        }
    }
}
