//! Mean and scatter of the residuals between two curves, relative to the reference's peak.

use super::check;
use crate::CrosscheckFailure;

/// Residuals, reference less judged, over the greatest size of the reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ResidualFigures {
    /// Mean.
    pub mean: f64,
    /// Standard deviation about the mean.
    pub sd: f64,
}

/// Mean and standard deviation of e = (m − c)/max|m| (Ray, in NCHRP Web-Only Document 179, 2011; formulas from memory). For
/// judging a simulation by a test. They depend on how much quiet record is included.
///
/// # Errors
/// As [`super::sprague_geers`], save for a judged curve of zeros.
pub fn residual_figures(reference: &[f64], judged: &[f64]) -> Result<ResidualFigures, CrosscheckFailure> {
    check(reference, judged, 2)?;
    let peak = reference.iter().fold(0.0_f64, |peak, value| peak.max(value.abs()));
    let errors: Vec<f64> = reference.iter().zip(judged).map(|(m, c)| (m - c) / peak).collect();
    #[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
    let n = errors.len() as f64;
    let mean = errors.iter().sum::<f64>() / n;
    let squares: f64 = errors.iter().map(|error| (error - mean).powi(2)).sum();
    Ok(ResidualFigures { mean, sd: (squares / (n - 1.0)).sqrt() })
}
