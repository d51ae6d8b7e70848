//! The objective rating of ISO/TS 18571: corridor, phase, magnitude and slope.

use super::check;
use super::warp::warped;
use crate::CrosscheckFailure;

/// Fewest samples: a slope over nine of them and something to shift.
const FEWEST: usize = 20;

/// Constants of the rating; the defaults are those of ISO/TS 18571:2014, clauses 6.2 and 6.3, from memory.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatingOptions {
    /// Within this share of the reference's peak a sample counts fully, 0 to 1.
    pub inner_corridor: f64,
    /// Beyond this share it counts nothing; above the inner one.
    pub outer_corridor: f64,
    /// Greatest shift as a share of the record, 0 to 0.5.
    pub greatest_shift: f64,
    /// Greatest error of magnitude that still counts; above 0.
    pub greatest_magnitude: f64,
    /// Greatest error of slope that still counts; above 0.
    pub greatest_slope: f64,
    /// Width of the warping band as a share of the record, 0 to 1.
    pub warp_window: f64,
}

impl Default for RatingOptions {
    fn default() -> Self {
        Self {
            inner_corridor: 0.05,
            outer_corridor: 0.5,
            greatest_shift: 0.2,
            greatest_magnitude: 0.5,
            greatest_slope: 2.0,
            warp_window: 0.1,
        }
    }
}

impl RatingOptions {
    /// Whether every constant lies in its range.
    ///
    /// # Errors
    /// [`CrosscheckFailure::Settings`] names the first that does not.
    pub fn check(&self) -> Result<(), CrosscheckFailure> {
        for (name, value, fits, range) in [
            (
                "inner_corridor",
                self.inner_corridor,
                (0.0..1.0).contains(&self.inner_corridor),
                "it must be 0 to 1",
            ),
            (
                "outer_corridor",
                self.outer_corridor,
                self.outer_corridor > self.inner_corridor && self.outer_corridor.is_finite(),
                "it must be above the inner corridor",
            ),
            (
                "greatest_shift",
                self.greatest_shift,
                (1e-6..=0.5).contains(&self.greatest_shift),
                "it must be up to 0.5",
            ),
            (
                "greatest_magnitude",
                self.greatest_magnitude,
                self.greatest_magnitude > 0.0 && self.greatest_magnitude.is_finite(),
                "it must be above 0",
            ),
            (
                "greatest_slope",
                self.greatest_slope,
                self.greatest_slope > 0.0 && self.greatest_slope.is_finite(),
                "it must be above 0",
            ),
            ("warp_window", self.warp_window, (0.0..=1.0).contains(&self.warp_window), "it must be 0 to 1"),
        ] {
            if !fits {
                return Err(CrosscheckFailure::Settings { name, value, range });
            }
        }
        Ok(())
    }
}

/// The word that goes with a rating (thresholds from memory).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grade {
    /// Above 0.94.
    Excellent,
    /// Above 0.80.
    Good,
    /// Above 0.58.
    Fair,
    /// The rest.
    Poor,
}

impl Grade {
    /// The grade of an overall rating.
    #[must_use]
    pub fn of(overall: f64) -> Self {
        match overall {
            r if r > 0.94 => Self::Excellent,
            r if r > 0.80 => Self::Good,
            r if r > 0.58 => Self::Fair,
            _ => Self::Poor,
        }
    }

    /// In a word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Excellent => "excellent",
            Self::Good => "good",
            Self::Fair => "fair",
            Self::Poor => "poor",
        }
    }
}

/// A rating with its parts, each 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rating {
    /// Mean of how far the samples stay within a corridor about the reference.
    pub corridor: f64,
    /// How little the judged curve must be shifted to fit best.
    pub phase: f64,
    /// That shift, samples; positive for a judged curve that is late.
    pub shift: i64,
    /// How alike the sizes are after shifting and warping.
    pub magnitude: f64,
    /// Sum of differences over sum of the reference after warping, which `magnitude` rates.
    pub magnitude_error: f64,
    /// How alike the slopes are after shifting.
    pub slope: f64,
    /// Sum of differences over sum of the reference's slopes, which `slope` rates.
    pub slope_error: f64,
    /// 0.4 corridor + 0.2 (phase + magnitude + slope).
    pub overall: f64,
}

impl Rating {
    /// The grade of the overall rating.
    #[must_use]
    pub fn grade(&self) -> Grade {
        Grade::of(self.overall)
    }
}

/// Rates a judged curve against a reference on one even time base, filtered alike (ISO/TS 18571:2014, clause 6; formulas and
/// constants from memory, tie rules our own). For repeatable, non-ambiguous signals such as a vehicle's pulse; it knows no
/// uncertainty, and says nothing of which of two curves is right. The time scale of 10 kHz that the standard prescribes
/// is the caller's matter.
///
/// # Errors
/// [`CrosscheckFailure`] for constants out of range and curves that cannot be compared.
pub fn rating(
    reference: &[f64],
    judged: &[f64],
    options: &RatingOptions,
) -> Result<Rating, CrosscheckFailure> {
    options.check()?;
    check(reference, judged, FEWEST)?;
    #[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
    let greatest = options.greatest_shift * reference.len() as f64;
    let shift = best_shift(reference, judged, greatest);
    let (own, other) = overlap(reference, judged, shift);
    #[expect(clippy::cast_precision_loss, reason = "a shift within the record")]
    let phase = ((greatest - shift.unsigned_abs() as f64) / greatest).clamp(0.0, 1.0);
    let magnitude_error = magnitude_error(own, other, options);
    let slope_error = slope_error(own, other);
    let (corridor, magnitude, slope) = (
        corridor(reference, judged, options),
        ((options.greatest_magnitude - magnitude_error) / options.greatest_magnitude).max(0.0),
        ((options.greatest_slope - slope_error) / options.greatest_slope).max(0.0),
    );
    let overall = 0.4 * corridor + 0.2 * (phase + magnitude + slope);
    Ok(Rating { corridor, phase, shift, magnitude, magnitude_error, slope, slope_error, overall })
}

fn corridor(reference: &[f64], judged: &[f64], options: &RatingOptions) -> f64 {
    let peak = reference.iter().fold(0.0_f64, |peak, value| peak.max(value.abs()));
    let (inner, outer) = (options.inner_corridor * peak, options.outer_corridor * peak);
    let share = |(a, b): (&f64, &f64)| ((outer - (a - b).abs()) / (outer - inner)).clamp(0.0, 1.0).powi(2);
    #[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
    let n = reference.len() as f64;
    reference.iter().zip(judged).map(share).sum::<f64>() / n
}

/// The parts that lie over each other when the judged curve is `shift` samples late.
fn overlap<'a>(reference: &'a [f64], judged: &'a [f64], shift: i64) -> (&'a [f64], &'a [f64]) {
    let by = usize::try_from(shift.unsigned_abs()).unwrap_or(usize::MAX).min(reference.len());
    let left = reference.len() - by;
    if shift >= 0 { (&reference[..left], &judged[by..]) } else { (&reference[by..], &judged[..left]) }
}

/// The shift with the greatest correlation; of equal ones the smallest. 0 where no correlation is defined.
fn best_shift(reference: &[f64], judged: &[f64], greatest: f64) -> i64 {
    #[expect(clippy::cast_possible_truncation, reason = "a share of the record")]
    let most = greatest.floor() as i64;
    let mut best = (0, f64::NEG_INFINITY);
    for size in 0..=most {
        for shift in [size, -size] {
            let (own, other) = overlap(reference, judged, shift);
            if let Some(found) = correlation(own, other).filter(|found| *found > best.1 + 1e-12) {
                best = (shift, found);
            }
        }
    }
    best.0
}

fn correlation(a: &[f64], b: &[f64]) -> Option<f64> {
    #[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
    let n = a.len() as f64;
    let (mean_a, mean_b) = (a.iter().sum::<f64>() / n, b.iter().sum::<f64>() / n);
    let (mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0);
    for (a, b) in a.iter().zip(b) {
        aa += (a - mean_a).powi(2);
        bb += (b - mean_b).powi(2);
        ab += (a - mean_a) * (b - mean_b);
    }
    (aa > 0.0 && bb > 0.0).then(|| ab / (aa * bb).sqrt())
}

fn magnitude_error(own: &[f64], other: &[f64], options: &RatingOptions) -> f64 {
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of the record, 0 or more"
    )]
    let window = (options.warp_window * own.len() as f64).ceil() as usize;
    let (mut apart, mut size) = (0.0, 0.0);
    for (i, j) in warped(own, other, window) {
        apart += (own[i] - other[j]).abs();
        size += own[i].abs();
    }
    apart / size
}

fn slope_error(own: &[f64], other: &[f64]) -> f64 {
    let (own, other) = (slopes(own), slopes(other));
    let apart: f64 = own.iter().zip(&other).map(|(a, b)| (a - b).abs()).sum();
    apart / own.iter().map(|slope| slope.abs()).sum::<f64>()
}

/// Central differences, one-sided at the ends, then a mean over nine that shrinks at the ends.
fn slopes(curve: &[f64]) -> Vec<f64> {
    let n = curve.len();
    let slope = |i: usize| match i {
        0 => curve[1] - curve[0],
        i if i + 1 == n => curve[i] - curve[i - 1],
        i => 0.5 * (curve[i + 1] - curve[i - 1]),
    };
    let raw: Vec<f64> = (0..n).map(slope).collect();
    let mean = |i: usize| {
        let half = 4.min(i).min(n - 1 - i);
        #[expect(clippy::cast_precision_loss, reason = "nine at most")]
        let count = (2 * half + 1) as f64;
        raw[i - half..=i + half].iter().sum::<f64>() / count
    };
    (0..n).map(mean).collect()
}
