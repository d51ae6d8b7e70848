//! Residual analysis for a low-pass cut-off (after D. A. Winter, Biomechanics and Motor Control of Human Movement; the
//! rule is given from memory).
//!
//! The residual against the cut-off falls steeply while signal is cut and then along a line while noise is. That line
//! carried to zero frequency tells the noise; the cut-off whose residual equals it cuts as much signal as it lets noise
//! through.

use super::butterworth::{FEWEST_MARKS, check_cut_off, zero_phase};
use super::linear::Even;
use crate::MotionFailure;
use crate::samples::Sample;

/// Cut-offs tried.
const STEPS: u32 = 120;

/// Settings of [`residual_cut_off`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ResidualOptions {
    /// Least and greatest cut-off tried as shares of the frame rate; above 0, below 0.25.
    pub range: (f64, f64),
    /// The line is fitted over the cut-offs above this share of the range, 0.2 to 0.9.
    pub line_from: f64,
}

impl Default for ResidualOptions {
    fn default() -> Self {
        Self { range: (0.004, 0.2), line_from: 0.6 }
    }
}

impl ResidualOptions {
    /// Checks every setting's range.
    ///
    /// # Errors
    /// [`MotionFailure::Setting`] names the first setting out of range.
    pub fn check(&self) -> Result<(), MotionFailure> {
        let (least, most) = self.range;
        if !(least > 0.0 && least < most && most < 0.25) {
            let rule = "it must rise, from above 0 to below 0.25";
            return Err(MotionFailure::Setting { setting: "range", value: least, rule });
        }
        if !(0.2..=0.9).contains(&self.line_from) {
            let (value, rule) = (self.line_from, "it must be from 0.2 to 0.9");
            return Err(MotionFailure::Setting { setting: "line_from", value, rule });
        }
        Ok(())
    }
}

/// What the residuals tell.
#[derive(Debug, Clone, PartialEq)]
pub struct ResidualAnalysis {
    /// The cut-off, Hz.
    pub cut_off_hz: f64,
    /// Noise told by the line at zero frequency, the curve's unit.
    pub noise: f64,
    /// Cut-off and root mean square residual, Hz and the curve's unit.
    pub residuals: Vec<(f64, f64)>,
}

/// The cut-off at which the residual equals the noise.
///
/// # Errors
/// [`MotionFailure`] for settings, gaps, uneven times, few marks, and for residuals that show no noise.
pub fn residual_cut_off(
    times_s: &[f64],
    samples: &[Sample],
    options: &ResidualOptions,
) -> Result<ResidualAnalysis, MotionFailure> {
    options.check()?;
    let what = "residual analysis";
    let even = Even::of(what, times_s, samples, FEWEST_MARKS)?;
    let (least, most) = (options.range.0 / even.step_s, options.range.1 / even.step_s);
    check_cut_off(most, even.step_s)?;
    #[expect(clippy::cast_precision_loss, reason = "counts of frames")]
    let n = even.values.len() as f64;
    let residual = |hz: f64| {
        let y = zero_phase(&even.values, hz, even.step_s);
        let squares: f64 = y.iter().zip(&even.values).map(|(y, x)| (x - y).powi(2)).sum();
        (squares / n).sqrt()
    };
    let hz = |i: u32| least + (most - least) * f64::from(i) / f64::from(STEPS);
    let residuals: Vec<(f64, f64)> = (0..=STEPS).map(|i| (hz(i), residual(hz(i)))).collect();
    let from = least + options.line_from * (most - least);
    let tail: Vec<(f64, f64)> = residuals.iter().copied().filter(|(hz, _)| *hz >= from).collect();
    let noise = intercept(&tail);
    let crossing = residuals.windows(2).find(|pair| pair[0].1 >= noise && pair[1].1 < noise);
    let (Some(pair), true) = (crossing, noise > 0.0) else {
        let why = "the residuals do not come down to a noise; type the cut-off";
        return Err(MotionFailure::Degenerate { what, why });
    };
    let share = (pair[0].1 - noise) / (pair[0].1 - pair[1].1);
    Ok(ResidualAnalysis { cut_off_hz: pair[0].0 + share * (pair[1].0 - pair[0].0), noise, residuals })
}

/// Value at zero of the least-squares line.
#[expect(clippy::cast_precision_loss, reason = "some tens of points")]
fn intercept(points: &[(f64, f64)]) -> f64 {
    let n = points.len() as f64;
    let (mx, my) = points.iter().fold((0.0, 0.0), |(x, y), point| (x + point.0 / n, y + point.1 / n));
    let (sxx, sxy) =
        points.iter().fold((0.0, 0.0), |(xx, xy), p| (xx + (p.0 - mx).powi(2), xy + (p.0 - mx) * (p.1 - my)));
    my - mx * sxy / sxx
}
