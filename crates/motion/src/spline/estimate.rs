//! Least-squares states of a chain with their covariance, by orthogonal transformations in one pass forward and one
//! back (Paige and Saunders 1977, SIAM J. Numer. Anal. 14:180): no prior for the start, no subtraction of covariances,
//! and stable from hardly any smoothing to nearly a polynomial. The same pass gives the likelihood.

use super::model::{Degree, Node, gathered_to, transition};
use crate::matrix::{
    Matrix4, applied, cholesky, diagonal, lower_inverse, product, sandwich, sum, transposed, triangularise,
    upper_solved,
};

/// Weighted rows about one state, right-hand side last; the fifth is room for a sample.
pub(crate) type Known = [[f64; 5]; 5];

/// The state at one node given all samples, and how it hangs on the next node's.
#[derive(Debug, Clone)]
pub(crate) struct Estimate {
    /// Value and three derivatives per step.
    pub(crate) state: [f64; 4],
    /// Covariance of the state.
    pub(crate) cov: Matrix4,
    /// cov(this state, next state) = `gain` cov(next state); zero at the last node.
    pub(crate) gain: Matrix4,
    /// Root of what remains of the covariance once the next state is known.
    pub(crate) root: Matrix4,
}

/// How likely the samples are.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Likelihood {
    /// Weighted sum of squares of samples and driving noise together.
    squares: f64,
    /// Logarithm of the marginal density's factor that does not depend on the samples' values, up to a constant of the
    /// samples themselves.
    log_factor: f64,
}

impl Likelihood {
    /// Logarithm of the marginal density of the samples for a noise of `noise_scale` times that stated.
    pub(crate) fn log(&self, noise_scale: f64) -> f64 {
        self.log_factor - 0.5 * self.squares / (noise_scale * noise_scale)
    }
}

/// What remains of one node once it is expressed by the next.
struct Eliminated {
    own: Matrix4,
    next: Matrix4,
    right: [f64; 4],
}

/// A state of which nothing is known but that an unused entry is nothing.
pub(crate) fn nothing_known(degree: Degree) -> Known {
    let mut known = [[0.0; 5]; 5];
    for (k, row) in known.iter_mut().enumerate().take(4).skip(degree.order()) {
        row[k] = 1.0;
    }
    known
}

/// States at all nodes; `None` where the samples do not determine them (fewer than the order, or numbers out of range).
pub(crate) fn estimate(degree: Degree, nodes: &[Node]) -> Option<Vec<Estimate>> {
    estimate_window(degree, nodes, &nothing_known(degree), &[[0.0; 5]; 5])
}

/// States at the nodes of a window, with what the nodes before tell of its first and the nodes after of its last.
pub(crate) fn estimate_window(
    degree: Degree,
    nodes: &[Node],
    before: &Known,
    after: &Known,
) -> Option<Vec<Estimate>> {
    let mut forward = Vec::with_capacity(nodes.len());
    let (known, _) = passed(degree, nodes, before, |rows| forward.push(eliminated(rows)))?;
    let (last, _) = joined_at_end(&known, after);
    solved_back(&last, &forward)
}

/// The likelihood of the samples of a window, given what lies before and after.
pub(crate) fn likelihood(
    degree: Degree,
    nodes: &[Node],
    before: &Known,
    after: &Known,
) -> Option<Likelihood> {
    let (known, sum) = passed(degree, nodes, before, |_| {})?;
    let (last, rest) = joined_at_end(&known, after);
    let log_last = (0..4).map(|i| last.own[i][i].abs().ln()).sum::<f64>();
    Some(Likelihood { squares: sum.squares + rest, log_factor: sum.log_factor - log_last })
}

/// The likelihood of the samples of a chain by itself.
pub(crate) fn likelihood_alone(degree: Degree, nodes: &[Node]) -> Option<Likelihood> {
    likelihood(degree, nodes, &nothing_known(degree), &[[0.0; 5]; 5])
}

/// What the samples of a chain tell of its last node, and how likely they are up to what is left to be integrated there.
pub(crate) fn known_at_end(degree: Degree, nodes: &[Node]) -> Option<(Known, Likelihood)> {
    let (mut known, mut sum) = passed(degree, nodes, &nothing_known(degree), |_| {})?;
    triangularise(&mut known, 5);
    sum.squares += known[4][4] * known[4][4];
    known[4] = [0.0; 5];
    Some((known, sum))
}

/// One pass forward: what is known of the last node, its sample included, and each triangle on the way.
fn passed(
    degree: Degree,
    nodes: &[Node],
    before: &Known,
    mut each: impl FnMut(&[[f64; 9]; 9]),
) -> Option<(Known, Likelihood)> {
    let mut known = *before;
    let mut sum = Likelihood { squares: 0.0, log_factor: 0.0 };
    for (node, next) in nodes.iter().zip(nodes.iter().skip(1)) {
        let span = next.at - node.at;
        let whiten = lower_inverse(&cholesky(&gathered_to(degree, next, span))?);
        let step = product(&whiten, &transition(degree, span));
        add_sample(&mut known, node.sample);
        let mut rows = joined(&step.map(|row| row.map(|entry| -entry)), &whiten, &known);
        triangularise(&mut rows, 8);
        sum.squares += rows[8][8] * rows[8][8];
        let (whole, own) = (0..4).fold((1.0, 1.0), |(a, b), i| (a * whiten[i][i], b * rows[i][i].abs()));
        sum.log_factor += f64::ln(whole / own);
        each(&rows);
        known = kept(&rows);
    }
    add_sample(&mut known, nodes.last()?.sample);
    Some((known, sum))
}

/// Rows about a node and its neighbour: the link between them, then what is known of the node. The heaviest rows come
/// first: Householder reflections lose least that way.
pub(super) fn joined(node: &Matrix4, neighbour: &Matrix4, known: &Known) -> [[f64; 9]; 9] {
    let mut rows = [[0.0; 9]; 9];
    for i in 0..4 {
        rows[i][..4].copy_from_slice(&node[i]);
        rows[i][4..8].copy_from_slice(&neighbour[i]);
    }
    for i in 0..5 {
        rows[4 + i][..4].copy_from_slice(&known[i][..4]);
        rows[4 + i][8] = known[i][4];
    }
    rows
}

/// What triangular rows still tell of the neighbour.
pub(super) fn kept(rows: &[[f64; 9]; 9]) -> Known {
    let mut known = [[0.0; 5]; 5];
    for i in 0..4 {
        known[i].copy_from_slice(&rows[4 + i][4..9]);
    }
    known
}

/// Puts a sample into the free row.
pub(crate) fn add_sample(known: &mut Known, sample: Option<(f64, f64)>) {
    if let Some((value, variance)) = sample {
        let weight = variance.sqrt().recip();
        known[4] = [weight, 0.0, 0.0, 0.0, value * weight];
    }
}

fn eliminated(rows: &[[f64; 9]; 9]) -> Eliminated {
    Eliminated {
        own: std::array::from_fn(|i| std::array::from_fn(|j| rows[i][j])),
        next: std::array::from_fn(|i| std::array::from_fn(|j| rows[i][4 + j])),
        right: std::array::from_fn(|i| rows[i][8]),
    }
}

/// The last node with all that is known of it, and the squares that are left over.
fn joined_at_end(known: &Known, after: &Known) -> (Eliminated, f64) {
    let mut rows = [[0.0; 5]; 9];
    rows[..5].copy_from_slice(known);
    rows[5..].copy_from_slice(&after[..4]);
    triangularise(&mut rows, 5);
    let last = Eliminated {
        own: std::array::from_fn(|i| std::array::from_fn(|j| rows[i][j])),
        next: [[0.0; 4]; 4],
        right: std::array::from_fn(|i| rows[i][4]),
    };
    (last, rows[4][4] * rows[4][4])
}

/// From the last node back to the first.
fn solved_back(last: &Eliminated, forward: &[Eliminated]) -> Option<Vec<Estimate>> {
    let inverse = upper_solved(&last.own, &diagonal([1.0; 4]))?;
    let mut states = vec![Estimate {
        state: applied(&inverse, &last.right),
        cov: product(&inverse, &transposed(&inverse)),
        gain: [[0.0; 4]; 4],
        root: inverse,
    }];
    for node in forward.iter().rev() {
        let after = &states[states.len() - 1];
        let inverse = upper_solved(&node.own, &diagonal([1.0; 4]))?;
        let gain = product(&inverse, &node.next).map(|row| row.map(|entry| -entry));
        let (own, carried) = (applied(&inverse, &node.right), applied(&gain, &after.state));
        states.push(Estimate {
            state: std::array::from_fn(|i| own[i] + carried[i]),
            cov: sum(&product(&inverse, &transposed(&inverse)), &sandwich(&gain, &after.cov)),
            gain,
            root: inverse,
        });
    }
    states.reverse();
    let finite =
        states.iter().all(|node| node.state.iter().chain(node.cov.iter().flatten()).all(|x| x.is_finite()));
    finite.then_some(states)
}
