//! Channel frequency class filter: a two-pole section run forward and backward (SAE J211-1, ISO 6487).

use crate::SensorsError;

/// Channel frequency class.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CfcClass {
    /// Class 60: −3 dB near 100 Hz; vehicle comparison, overlay on film.
    Cfc60,
    /// Class 180: −3 dB near 300 Hz; integration to velocity and displacement, occupant figures.
    Cfc180,
    /// Class 600: −3 dB near 1000 Hz.
    Cfc600,
    /// Class 1000: −3 dB near 1650 Hz.
    Cfc1000,
}

impl CfcClass {
    /// The class's number, Hz.
    #[must_use]
    pub fn number_hz(self) -> f64 {
        match self {
            Self::Cfc60 => 60.0,
            Self::Cfc180 => 180.0,
            Self::Cfc600 => 600.0,
            Self::Cfc1000 => 1000.0,
        }
    }
}

/// Which published factor turns a class into the corner frequency of one pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum CfcConstant {
    /// 2.0775 (SAE J211-1 since 1995): two passes are 3 dB down at 5/3 of the class.
    #[default]
    Sae,
    /// 1.25 · 5/3 = 2.08333 (wording of ISO 6487).
    Iso,
}

impl CfcConstant {
    fn factor(self) -> f64 {
        match self {
            Self::Sae => 2.0775,
            Self::Iso => 1.25 * 5.0 / 3.0,
        }
    }
}

/// What the filter takes the signal to have been before the first and after the last sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum StartRule {
    /// Both ends are continued by 10 ms (at least 100 samples where there are as many), point-mirrored
    /// about the end sample, as in the informative annex of ISO 6487; the continuation is cut off again.
    #[default]
    PointMirror,
    /// The end samples go on for ever. For a record with a still stretch at both ends.
    HoldEnds,
    /// The signal was zero. For a record that is padded with zeros.
    Zero,
}

/// Coefficients of one pass: `y[k] = a0 x[k] + a1 x[k-1] + a2 x[k-2] + b1 y[k-1] + b2 y[k-2]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CfcCoefficients {
    /// Factor of the present sample.
    pub a0: f64,
    /// Factor of the sample before.
    pub a1: f64,
    /// Factor of the sample before that.
    pub a2: f64,
    /// Factor of the output before.
    pub b1: f64,
    /// Factor of the output before that.
    pub b2: f64,
    /// Sample rate that they hold for, Hz.
    pub sample_rate_hz: f64,
}

/// Coefficients of one pass for a class at a sample rate (SAE J211-1, appendix C).
///
/// # Errors
/// [`SensorsError::Settings`] when the corner frequency does not lie below half the sample rate.
pub fn cfc_coefficients(
    sample_rate_hz: f64,
    class: CfcClass,
    constant: CfcConstant,
) -> Result<CfcCoefficients, SensorsError> {
    let corner_hz = class.number_hz() * constant.factor();
    let below_nyquist = sample_rate_hz.is_finite() && corner_hz < sample_rate_hz / 2.0;
    if !below_nyquist {
        let number = class.number_hz();
        return Err(SensorsError::settings(format!(
            "class {number} needs more than {} samples per second, the record has {sample_rate_hz}; choose a lower class",
            2.0 * corner_hz
        )));
    }
    Ok(of_corner(sample_rate_hz, corner_hz))
}

/// The values through a low-pass of four poles without phase: two poles forward and backward, each 3 dB down at `corner_hz`
/// (above 0), the pair at 0.8022 of it.
///
/// # Errors
/// [`SensorsError::Settings`] when the corner does not lie between 0 and half the sample rate, or a value is not finite.
pub fn low_pass(
    values: &[f64],
    sample_rate_hz: f64,
    corner_hz: f64,
    start: StartRule,
) -> Result<Vec<f64>, SensorsError> {
    if !(sample_rate_hz.is_finite() && corner_hz > 0.0 && corner_hz < sample_rate_hz / 2.0) {
        return Err(SensorsError::settings(format!(
            "a corner of {corner_hz} Hz cannot be had with {sample_rate_hz} samples per second; it must lie between 0 and \
             half of that"
        )));
    }
    cfc_with(values, &of_corner(sample_rate_hz, corner_hz), start)
}

/// A pass of two poles (Butterworth), by the bilinear transformation with its warping undone at the corner.
fn of_corner(sample_rate_hz: f64, corner_hz: f64) -> CfcCoefficients {
    let wa = (std::f64::consts::PI * corner_hz / sample_rate_hz).tan();
    let root2_wa = std::f64::consts::SQRT_2 * wa;
    let denominator = 1.0 + root2_wa + wa * wa;
    let a0 = wa * wa / denominator;
    CfcCoefficients {
        a0,
        a1: 2.0 * a0,
        a2: a0,
        b1: -2.0 * (wa * wa - 1.0) / denominator,
        b2: (-1.0 + root2_wa - wa * wa) / denominator,
        sample_rate_hz,
    }
}

/// The values filtered to a class with the factor of SAE J211-1; as many as were given, no time shift.
///
/// # Errors
/// [`SensorsError::Settings`] when the class is too high for the sample rate or a value is not finite.
pub fn cfc(
    values: &[f64],
    sample_rate_hz: f64,
    class: CfcClass,
    start: StartRule,
) -> Result<Vec<f64>, SensorsError> {
    cfc_with(values, &cfc_coefficients(sample_rate_hz, class, CfcConstant::Sae)?, start)
}

/// The values filtered with given coefficients, forward and backward.
///
/// # Errors
/// [`SensorsError::Settings`] when a value is not finite.
pub fn cfc_with(
    values: &[f64],
    coefficients: &CfcCoefficients,
    start: StartRule,
) -> Result<Vec<f64>, SensorsError> {
    if let Some(index) = values.iter().position(|value| !value.is_finite()) {
        return Err(SensorsError::settings(format!(
            "sample {index} is not a finite number; cut or repair the record before filtering"
        )));
    }
    if values.is_empty() {
        return Ok(Vec::new());
    }
    let n_added = match start {
        StartRule::PointMirror => added_samples(values.len(), coefficients.sample_rate_hz),
        StartRule::HoldEnds | StartRule::Zero => 0,
    };
    let at_rest = start == StartRule::Zero;
    let mut signal = mirrored(values, n_added);
    pass(&mut signal, coefficients, at_rest);
    signal.reverse();
    pass(&mut signal, coefficients, at_rest);
    signal.reverse();
    Ok(signal[n_added..n_added + values.len()].to_vec())
}

/// Length of the continuation at each end: 10 ms, at least 100 samples, at most the record less one.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a float cast saturates, and the record's length bounds it"
)]
fn added_samples(n_samples: usize, sample_rate_hz: f64) -> usize {
    let ten_ms = (0.01 * sample_rate_hz).round() as usize;
    ten_ms.max(100).min(n_samples - 1)
}

fn mirrored(values: &[f64], n_added: usize) -> Vec<f64> {
    let (first, last) = (values[0], values[values.len() - 1]);
    let n_samples = values.len();
    let before = (1..=n_added).rev().map(|i| 2.0 * first - values[i]);
    let after = (1..=n_added).map(|i| 2.0 * last - values[n_samples - 1 - i]);
    before.chain(values.iter().copied()).chain(after).collect()
}

/// One pass in place, from the steady state of the first sample or from rest.
fn pass(signal: &mut [f64], c: &CfcCoefficients, at_rest: bool) {
    let before = if at_rest { 0.0 } else { signal[0] };
    let (mut x1, mut x2, mut y1, mut y2) = (before, before, before, before);
    for value in signal {
        let x0 = *value;
        let y0 = c.a0 * x0 + c.a1 * x1 + c.a2 * x2 + c.b1 * y1 + c.b2 * y2;
        (x2, x1, y2, y1) = (x1, x0, y1, y0);
        *value = y0;
    }
}

#[cfg(test)]
mod tests;
