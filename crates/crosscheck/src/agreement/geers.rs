//! Magnitude and phase metrics of Sprague and Geers.

use super::check;
use crate::CrosscheckFailure;
use std::f64::consts::PI;

/// Differences of a judged curve from a reference, as shares: 0 for the same curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpragueGeers {
    /// Of magnitude, √(Σc²/Σm²) − 1; negative for a smaller curve. Blind to phase.
    pub magnitude: f64,
    /// Of phase, acos(Σmc/√(Σm²Σc²))/π, 0 to 1. Blind to magnitude.
    pub phase: f64,
    /// Both, as the root of the sum of squares.
    pub both: f64,
}

/// The metrics of Sprague and Geers 2004 (Int. J. Numer. Meth. Eng. 60:2467; formulas from memory). For judging a simulation
/// by a test: one number for size and one for timing, over the whole stretch given; a long quiet stretch does not dilute
/// them.
///
/// # Errors
/// [`CrosscheckFailure::Curves`] for curves of different lengths, fewer than two samples, samples that are no numbers, or a
/// curve that is zero throughout.
pub fn sprague_geers(reference: &[f64], judged: &[f64]) -> Result<SpragueGeers, CrosscheckFailure> {
    check(reference, judged, 2)?;
    let sum = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
    let (own, other, mixed) = (sum(reference, reference), sum(judged, judged), sum(reference, judged));
    if other == 0.0 {
        return Err(CrosscheckFailure::Curves {
            why: "the judged curve is zero throughout: it has no phase".into(),
        });
    }
    let magnitude = (other / own).sqrt() - 1.0;
    let phase = (mixed / (own * other).sqrt()).clamp(-1.0, 1.0).acos() / PI;
    Ok(SpragueGeers { magnitude, phase, both: magnitude.hypot(phase) })
}
