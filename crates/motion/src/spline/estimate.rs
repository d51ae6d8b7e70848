//! Least-squares states of the whole chain with their covariance, by orthogonal transformations in one pass forward
//! and one back (Paige and Saunders 1977, SIAM J. Numer. Anal. 14:180): no prior for the start, no subtraction of
//! covariances, and stable from hardly any smoothing to nearly a cubic.

use super::model::{Node, gathered_to, transition};
use crate::matrix::{
    Matrix4, applied, cholesky, diagonal, lower_inverse, product, sandwich, sum, transposed, triangularise,
    upper_solved,
};

/// The state at one node given all samples, and how it hangs on the next node's.
#[derive(Debug, Clone)]
pub(crate) struct Estimate {
    /// Value and three derivatives per step.
    pub(crate) state: [f64; 4],
    /// Covariance of the state.
    pub(crate) cov: Matrix4,
    /// cov(this state, next state) = `gain` cov(next state); zero at the last node.
    pub(crate) gain: Matrix4,
}

/// What remains of one node once it is expressed by the next.
struct Eliminated {
    own: Matrix4,
    next: Matrix4,
    right: [f64; 4],
}

/// States at all nodes; `None` where the samples do not determine them (fewer than four, or numbers out of range).
pub(crate) fn estimate(nodes: &[Node]) -> Option<Vec<Estimate>> {
    let (last, forward) = eliminated(nodes)?;
    let inverse = upper_solved(&last.own, &diagonal([1.0; 4]))?;
    let start = Estimate {
        state: applied(&inverse, &last.right),
        cov: product(&inverse, &transposed(&inverse)),
        gain: [[0.0; 4]; 4],
    };
    let mut estimates = vec![start];
    for node in forward.iter().rev() {
        let after = &estimates[estimates.len() - 1];
        let inverse = upper_solved(&node.own, &diagonal([1.0; 4]))?;
        let gain = product(&inverse, &node.next).map(|row| row.map(|entry| -entry));
        let (own, carried) = (applied(&inverse, &node.right), applied(&gain, &after.state));
        estimates.push(Estimate {
            state: std::array::from_fn(|i| own[i] + carried[i]),
            cov: sum(&product(&inverse, &transposed(&inverse)), &sandwich(&gain, &after.cov)),
            gain,
        });
    }
    estimates.reverse();
    let finite = estimates
        .iter()
        .all(|node| node.state.iter().chain(node.cov.iter().flatten()).all(|x| x.is_finite()));
    finite.then_some(estimates)
}

/// Forward pass: what is known of the last node, and every other node in terms of its successor.
fn eliminated(nodes: &[Node]) -> Option<(Eliminated, Vec<Eliminated>)> {
    let mut known = [[0.0; 5]; 5];
    let mut forward = Vec::with_capacity(nodes.len());
    for (node, next) in nodes.iter().zip(nodes.iter().skip(1)) {
        let span = next.at - node.at;
        let whiten = lower_inverse(&cholesky(&gathered_to(next, span))?);
        let step = product(&whiten, &transition(span));
        let mut rows = [[0.0; 9]; 9];
        // The heaviest rows come first: Householder reflections lose least that way.
        for i in 0..4 {
            for j in 0..4 {
                rows[i][j] = -step[i][j];
                rows[i][4 + j] = whiten[i][j];
                rows[4 + i][j] = known[i][j];
            }
            rows[4 + i][8] = known[i][4];
        }
        if let Some((value, variance)) = node.sample {
            let weight = variance.sqrt().recip();
            rows[8][0] = weight;
            rows[8][8] = value * weight;
        }
        triangularise(&mut rows, 8);
        forward.push(Eliminated {
            own: std::array::from_fn(|i| std::array::from_fn(|j| rows[i][j])),
            next: std::array::from_fn(|i| std::array::from_fn(|j| rows[i][4 + j])),
            right: std::array::from_fn(|i| rows[i][8]),
        });
        known = [[0.0; 5]; 5];
        for i in 0..4 {
            known[i].copy_from_slice(&rows[4 + i][4..9]);
        }
    }
    if let Some((value, variance)) = nodes.last()?.sample {
        let weight = variance.sqrt().recip();
        known[4] = [weight, 0.0, 0.0, 0.0, value * weight];
    }
    triangularise(&mut known, 4);
    let last = Eliminated {
        own: std::array::from_fn(|i| std::array::from_fn(|j| known[i][j])),
        next: [[0.0; 4]; 4],
        right: std::array::from_fn(|i| known[i][4]),
    };
    Some((last, forward))
}
