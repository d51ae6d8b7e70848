//! The moving point as a chain of states: value and its derivatives, driven by white noise in the next one.
//!
//! The best estimate under this model is the smoothing spline of degree 2m - 1 for m states (Wahba 1978, J. R. Statist.
//! Soc. B 40:364; Wecker and Ansley 1983, J. Am. Statist. Assoc. 78:81). Time counts in steps, derivatives are per step, so that
//! all entries are of one order.

use crate::matrix::{Matrix4, diagonal, sum};

/// Factorials of 0 to 3.
const FACTORIAL: [f64; 4] = [1.0, 1.0, 2.0, 6.0];

/// Degree of the smoothing spline.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Degree {
    /// White noise drives the third derivative: value, rate and second derivative have bands, the third has none.
    Five,
    /// White noise drives the fourth derivative: all of them have bands.
    #[default]
    Seven,
}

impl Degree {
    /// Derivatives in the state, the value counted: m of a spline of degree 2m - 1.
    pub(crate) fn order(self) -> usize {
        match self {
            Self::Five => 3,
            Self::Seven => 4,
        }
    }

    /// Power of a second in the unit of the driving noise: unit² per s^(2m-1).
    pub(crate) fn power(self) -> i32 {
        match self {
            Self::Five => 5,
            Self::Seven => 7,
        }
    }
}

/// One instant at which the state is estimated.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Node {
    /// Time in steps from the first node.
    pub(crate) at: f64,
    /// Measured value and its variance, where there is one.
    pub(crate) sample: Option<(f64, f64)>,
    /// Driving noise from the previous node to this one, unit² per step^(2m-1).
    pub(crate) drive: f64,
    /// Driving noise on top of that, while a change of the motion builds up. Zero elsewhere.
    pub(crate) burst: f64,
    /// Variances added to the state just before this node: a kink. All zero elsewhere.
    pub(crate) jump: [f64; 4],
}

/// Takes a state `span` steps ahead: F_ij = span^(j-i) / (j-i)!. A fourth entry that the degree does not use is begun
/// anew at each node.
pub(crate) fn transition(degree: Degree, span: f64) -> Matrix4 {
    let m = degree.order();
    let entry = |i: usize, j: usize| {
        if j < i || j >= m { 0.0 } else { power(span, j - i) / FACTORIAL[j - i] }
    };
    std::array::from_fn(|i| std::array::from_fn(|j| entry(i, j)))
}

/// Covariance that driving noise of unit strength gathers over `span` steps:
/// Q_ij = span^(2m-1-i-j) / ((2m-1-i-j) (m-1-i)! (m-1-j)!). Unused entries gather none.
pub(crate) fn gathered(degree: Degree, span: f64) -> Matrix4 {
    let m = degree.order();
    #[expect(clippy::cast_precision_loss, reason = "1 to 7")]
    let entry = |i: usize, j: usize| {
        if i >= m || j >= m {
            return 0.0;
        }
        let n = 2 * m - 1 - i - j;
        power(span, n) / (n as f64 * FACTORIAL[m - 1 - i] * FACTORIAL[m - 1 - j])
    };
    std::array::from_fn(|i| std::array::from_fn(|j| entry(i, j)))
}

/// Covariance gathered from the previous node, `span` steps before, to this one.
pub(crate) fn gathered_to(degree: Degree, node: &Node, span: f64) -> Matrix4 {
    let drive = node.drive + node.burst;
    let mut all =
        sum(&gathered(degree, span).map(|row| row.map(|entry| entry * drive)), &diagonal(node.jump));
    // An unused entry has unit variance, so that nothing becomes singular and nothing else is touched.
    for (k, row) in all.iter_mut().enumerate().skip(degree.order()) {
        row[k] = 1.0;
    }
    all
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
        for degree in [Degree::Five, Degree::Seven] {
            let joined = sum(
                &sandwich(&transition(degree, second), &gathered(degree, first)),
                &gathered(degree, second),
            );
            let whole = gathered(degree, first + second);
            for (a, b) in joined.iter().flatten().zip(whole.iter().flatten()) {
                assert!((a - b).abs() <= 1e-12 * b.abs());
            }
        }
    }
}
