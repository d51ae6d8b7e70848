//! Zero-phase Butterworth low-pass: second order forward, the same backward, padded by reflection through the end points.

use super::linear::{Even, Filtered, Row};
use super::residuals::{ResidualOptions, residual_cut_off};
use crate::MotionFailure;
use crate::samples::Sample;
use std::f64::consts::{PI, SQRT_2};

/// Cut-off of the two passes together over that of one: (√2 - 1)^(1/4) (derived: |H|⁴ = 1/2).
const TWO_PASSES: f64 = 0.802_243_140_690_3;
/// Fewest marks.
pub(super) const FEWEST_MARKS: usize = 9;

/// Where the cut-off comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CutOff {
    /// Frequency at which both passes together have the gain 1/√2, Hz; above 0, below a quarter of the frame rate.
    Hz(f64),
    /// Chosen from the residuals.
    Residuals(ResidualOptions),
}

/// Settings of [`butterworth`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ButterworthOptions {
    /// The cut-off.
    pub cut_off: CutOff,
}

impl ButterworthOptions {
    /// Checks every setting's range but the upper end of the cut-off, which hangs on the frame rate.
    ///
    /// # Errors
    /// [`MotionFailure::Setting`] names the first setting out of range.
    pub fn check(&self) -> Result<(), MotionFailure> {
        match self.cut_off {
            CutOff::Hz(value) if !(value.is_finite() && value > 0.0) => {
                Err(MotionFailure::Setting { setting: "cut_off", value, rule: "it must be greater than 0" })
            }
            CutOff::Hz(_) => Ok(()),
            CutOff::Residuals(options) => options.check(),
        }
    }
}

/// Filters a curve and differentiates it by central differences: rate and second derivative are missing at both ends.
///
/// # Errors
/// [`MotionFailure`] for settings out of range, gaps, uneven times, fewer than nine marks, and a cut-off that is not below a
/// quarter of the frame rate.
pub fn butterworth(
    times_s: &[f64],
    samples: &[Sample],
    options: &ButterworthOptions,
) -> Result<Filtered, MotionFailure> {
    options.check()?;
    let even = Even::of("Butterworth filter", times_s, samples, FEWEST_MARKS)?;
    let cut_off_hz = match options.cut_off {
        CutOff::Hz(value) => value,
        CutOff::Residuals(options) => residual_cut_off(times_s, samples, &options)?.cut_off_hz,
    };
    check_cut_off(cut_off_hz, even.step_s)?;
    let step_s = even.step_s;
    let respond = |values: &[f64]| -> Vec<Row> {
        let y = zero_phase(values, cut_off_hz, step_s);
        let inner = |i: usize| i > 0 && i + 1 < y.len();
        (0..y.len())
            .map(|i| {
                let rate = inner(i).then(|| (y[i + 1] - y[i - 1]) / (2.0 * step_s));
                let second = inner(i).then(|| (y[i + 1] - 2.0 * y[i] + y[i - 1]) / (step_s * step_s));
                [Some(y[i]), rate, second]
            })
            .collect()
    };
    Ok(Filtered {
        times_s: times_s.to_vec(),
        states: even.filtered(pad(cut_off_hz, step_s), respond),
        method: "zero-phase Butterworth, second order each way, then differences",
        setting: format!("cut-off {cut_off_hz:.1} Hz"),
        band_hz: Some(cut_off_hz),
    })
}

pub(super) fn check_cut_off(value: f64, step_s: f64) -> Result<(), MotionFailure> {
    if value * step_s < 0.25 {
        return Ok(());
    }
    let rule = "it must be below a quarter of the frame rate, Hz";
    Err(MotionFailure::Setting { setting: "cut_off", value, rule })
}

/// Frames after which one pass has died away to 1e-6.
fn pad(cut_off_hz: f64, step_s: f64) -> usize {
    // The slower envelope is e^(-w t / √2).
    let decay = 14.0 * SQRT_2 * TWO_PASSES / (2.0 * PI * cut_off_hz * step_s);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "positive and rounded up")]
    let frames = decay.ceil().min(1e6) as usize;
    frames.max(4)
}

/// Both passes over a padded curve. The pad turns the curve about its end point, which carries a line on as a line.
pub(super) fn zero_phase(values: &[f64], cut_off_hz: f64, step_s: f64) -> Vec<f64> {
    let n = values.len();
    let pad = pad(cut_off_hz, step_s).min(n - 1);
    let mut x: Vec<f64> = (1..=pad).rev().map(|i| 2.0 * values[0] - values[i]).collect();
    x.extend(values);
    x.extend((1..=pad).map(|i| 2.0 * values[n - 1] - values[n - 1 - i]));
    let w = (PI * cut_off_hz * step_s).tan() / TWO_PASSES;
    let mut y = pass(&x, w);
    y.reverse();
    y = pass(&y, w);
    y.reverse();
    y[pad..pad + n].to_vec()
}

/// One pass, begun at rest on the line through the first two values.
fn pass(x: &[f64], w: f64) -> Vec<f64> {
    let k = 1.0 + SQRT_2 * w + w * w;
    let (b, a1, a2) = (w * w / k, 2.0 * (w * w - 1.0) / k, (1.0 - SQRT_2 * w + w * w) / k);
    // A line comes through late by √2 / (2w) frames: begun so, a line stays a line.
    let (slope, late) = (x[1] - x[0], SQRT_2 / (2.0 * w));
    let mut y = vec![x[0] - slope * late, x[1] - slope * late];
    for i in 2..x.len() {
        y.push(b * (x[i] + 2.0 * x[i - 1] + x[i - 2]) - a1 * y[i - 1] - a2 * y[i - 2]);
    }
    y
}
