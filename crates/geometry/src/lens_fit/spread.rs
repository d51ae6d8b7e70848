//! Covariance of the terms: of one fit, and of all choices of terms that the views allow.

use super::choose::Chosen;
use super::settled::{Fit, Seen};
use crate::lens_file::terms;
use nalgebra::SMatrix;

type Nine = SMatrix<f64, 9, 9>;
type Terms = SMatrix<f64, 9, 1>;

/// Covariance given the terms of a fit; `None` where the views leave one of them open.
pub(super) fn of_fit(seen: &Seen<'_>, fit: &Fit) -> Option<Nine> {
    let (variance, _) = seen.variance(fit);
    seen.problem(fit.free, None, 1).unit_covariance(&fit.settled.state).map(|unit| unit * variance)
}

/// Mean square about the chosen lens over all choices, each with its own covariance and weight (Buckland, Burnham & Augustin
/// 1997, Biometrics 53:603-618; here about the chosen lens instead of the mean of all).
pub(super) fn with_choice(seen: &Seen<'_>, chosen: &Chosen, cov: &Nine) -> Nine {
    let values = |fit: &Fit| Terms::from_column_slice(&terms(&fit.settled.state.lens));
    let best = values(&chosen.fit);
    let (mut sum, mut weights) = (*cov, 1.0);
    for (weight, fit) in &chosen.others {
        // A choice that the views leave open says nothing of how far off the best one is.
        if let Some(own) = of_fit(seen, fit) {
            let off = values(fit) - best;
            sum += (own + off * off.transpose()) * *weight;
            weights += weight;
        }
    }
    sum / weights
}

pub(super) fn rows(cov: &Nine) -> [[f64; 9]; 9] {
    std::array::from_fn(|i| std::array::from_fn(|j| cov[(i, j)]))
}
