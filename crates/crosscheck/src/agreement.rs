//! Figures of how alike two time histories are: each with its published source, and what it is and is not for.
//!
//! They compare curves on one time base, filtered alike. None of them knows an uncertainty, except the normalised error.

mod geers;
mod normalised;
mod rating;
mod residuals;
mod warp;

pub use geers::{SpragueGeers, sprague_geers};
pub use normalised::normalised_error;
pub use rating::{Grade, Rating, RatingOptions, rating};
pub use residuals::{ResidualFigures, residual_figures};

use crate::CrosscheckFailure;

/// Refuses curves that cannot be compared.
fn check(reference: &[f64], judged: &[f64], fewest: usize) -> Result<(), CrosscheckFailure> {
    let fault = |why: String| Err(CrosscheckFailure::Curves { why });
    if reference.len() != judged.len() {
        return fault(format!("they have {} and {} samples", reference.len(), judged.len()));
    }
    if reference.len() < fewest {
        return fault(format!("they have {} samples; {fewest} are needed", reference.len()));
    }
    if !reference.iter().chain(judged).all(|value| value.is_finite()) {
        return fault("a sample is no number".into());
    }
    if reference.iter().all(|value| *value == 0.0) {
        return fault(
            "the reference is zero throughout, so that nothing can be put in proportion to it".into(),
        );
    }
    Ok(())
}

#[cfg(test)]
mod tests;
