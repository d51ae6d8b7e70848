//! What the samples before and after each node tell of its state: two passes that serve every window of a chain.

use super::estimate::{Known, add_sample, joined, kept, nothing_known};
use super::model::{Degree, Node, gathered_to, transition};
use crate::matrix::{cholesky, lower_inverse, product, triangularise};

/// Rows about each node from both sides, without its own sample.
#[derive(Debug, Clone)]
pub(crate) struct Messages {
    /// From the nodes before.
    pub(crate) before: Vec<Known>,
    /// From the nodes after.
    pub(crate) after: Vec<Known>,
}

/// Both passes; `None` where numbers go out of range.
pub(crate) fn messages(degree: Degree, nodes: &[Node]) -> Option<Messages> {
    let mut links = Vec::with_capacity(nodes.len());
    for pair in nodes.windows(2) {
        let span = pair[1].at - pair[0].at;
        let whiten = lower_inverse(&cholesky(&gathered_to(degree, &pair[1], span))?);
        let step = product(&whiten, &transition(degree, span));
        links.push((step.map(|row| row.map(|entry| -entry)), whiten));
    }
    let mut before = vec![nothing_known(degree)];
    for (node, (from, to)) in nodes.iter().zip(&links) {
        let mut known = before[before.len() - 1];
        add_sample(&mut known, node.sample);
        let mut rows = joined(from, to, &known);
        triangularise(&mut rows, 8);
        before.push(kept(&rows));
    }
    // Nothing is known of the end; an unused entry of each node comes from its own link.
    let mut after = vec![[[0.0; 5]; 5]];
    for (node, (from, to)) in nodes.iter().skip(1).zip(&links).rev() {
        let mut known = after[after.len() - 1];
        add_sample(&mut known, node.sample);
        let mut rows = joined(to, from, &known);
        triangularise(&mut rows, 8);
        after.push(kept(&rows));
    }
    after.reverse();
    Some(Messages { before, after })
}
