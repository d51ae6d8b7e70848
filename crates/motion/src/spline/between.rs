//! The state between two nodes, exactly as the model has it.

use super::estimate::Estimate;
use super::model::{Degree, Node, gathered, gathered_to, transition};
use crate::matrix::{Matrix4, applied, difference, positive_inverse, product, sandwich, sum, transposed};

/// State and covariance `ahead` steps after `from`, which lies before `to`; `None` where the span is degenerate.
pub(crate) fn between(
    degree: Degree,
    from: (&Node, &Estimate),
    to: (&Node, &Estimate),
    ahead: f64,
) -> Option<([f64; 4], Matrix4)> {
    let span = to.0.at - from.0.at;
    let drive = to.0.drive + to.0.burst;
    let first = gathered(degree, ahead).map(|row| row.map(|entry| entry * drive));
    let (step, rest) = (transition(degree, ahead), transition(degree, span - ahead));
    let whole = gathered_to(degree, to.0, span);
    let carried = product(&first, &transposed(&rest));
    let by_next = product(&carried, &positive_inverse(&whole)?);
    let by_own = difference(&step, &product(&by_next, &transition(degree, span)));
    let own = applied(&by_own, &from.1.state);
    let next = applied(&by_next, &to.1.state);
    let shared = product(&product(&product(&by_own, &from.1.gain), &to.1.cov), &transposed(&by_next));
    let free = difference(&first, &product(&by_next, &transposed(&carried)));
    let cov = sum(
        &sum(&sandwich(&by_own, &from.1.cov), &sandwich(&by_next, &to.1.cov)),
        &sum(&sum(&shared, &transposed(&shared)), &free),
    );
    Some((std::array::from_fn(|i| own[i] + next[i]), cov))
}
