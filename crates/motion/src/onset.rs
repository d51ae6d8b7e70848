//! Contact from the kink in the run-up: constant speed, then an acceleration that rises evenly and holds.
//!
//! First the frame at which the marks leave the straight run-up for good, then least squares over a window about it:
//! a grid over the onset refined by Gauss-Newton, once for each of a row of rise times. How fast the acceleration rises
//! is not known, so the rise times are averaged by their likelihood, all equally likely beforehand; their disagreement
//! is part of the uncertainty (Hoeting et al. 1999, Statist. Sci. 14:382).

mod detect;
mod kink;

use crate::MotionFailure;
use crate::samples::{self, Sample};
use filmgauge_quantities::{Seconds, Speed, Uncertain};
use kink::Kink;

/// Rise times tried, as shares of the time fitted after the departure: from a step to a rise that goes on beyond it,
/// because a soft front's force takes tens of milliseconds. Closer together where short, as an impact's rises are.
const RISES: [f64; 9] = [0.0, 0.065, 0.16, 0.29, 0.44, 0.64, 0.95, 1.4, 2.0];

/// Fall of the residual sum of squares below which a kink may be chance: five standard deviations of one parameter.
const LEAST_SIGNIFICANCE: f64 = 25.0;

/// Settings of [`onset`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnsetOptions {
    /// Interval searched, s; the run-up must begin at its start.
    pub search_s: (f64, f64),
    /// Run-up before the departure that enters the fit, s; greater than 0.
    pub before_s: f64,
    /// Marks after the departure that enter the fit, s; greater than 0. Short, so that a rise
    /// and a constant describe them; long enough to tell a slow rise from a late one.
    pub after_s: f64,
    /// How many standard deviations a mark must lie off the run-up to count as departed; 3 to 10.
    pub departure_sd: f64,
    /// How many marks in a row must have departed to the same side; 2 to 20.
    pub departure_marks: usize,
}

impl Default for OnsetOptions {
    fn default() -> Self {
        Self {
            search_s: (f64::NEG_INFINITY, f64::INFINITY),
            before_s: 0.06,
            after_s: 0.016,
            departure_sd: 4.0,
            departure_marks: 4,
        }
    }
}

impl OnsetOptions {
    /// Checks every setting's range.
    ///
    /// # Errors
    /// [`MotionFailure::Setting`] names the first setting out of range.
    pub fn check(&self) -> Result<(), MotionFailure> {
        let fault = |setting, value, rule| Err(MotionFailure::Setting { setting, value, rule });
        if self.search_s.0.is_nan() || self.search_s.1.is_nan() || self.search_s.0 >= self.search_s.1 {
            return fault("search_s", self.search_s.0, "the interval must have a length");
        }
        for (setting, value) in [("before_s", self.before_s), ("after_s", self.after_s)] {
            if !(value.is_finite() && value > 0.0) {
                return fault(setting, value, "it must be greater than 0");
            }
        }
        if !(3.0..=10.0).contains(&self.departure_sd) {
            return fault("departure_sd", self.departure_sd, "it must be from 3 to 10");
        }
        if !(2..=20).contains(&self.departure_marks) {
            #[expect(clippy::cast_precision_loss, reason = "a small count, for the message")]
            let value = self.departure_marks as f64;
            return fault("departure_marks", value, "it must be from 2 to 20");
        }
        Ok(())
    }
}

/// The kink, and what was before it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Onset {
    /// Instant of the kink.
    pub time: Uncertain<Seconds>,
    /// Speed before it.
    pub speed_before: Uncertain<Speed>,
    /// Root mean square residual over the window, m.
    pub residual_rms_m: f64,
    /// Residual sum of squares over its degrees of freedom; about 1 for a good fit with true variances.
    pub chi2_per_dof: f64,
    /// Fall of the residual sum of squares against a straight line, over the noise: hundreds for an impact.
    pub significance: f64,
    /// Marks in the window.
    pub n_marks: usize,
}

/// Finds the onset in a curve of places with variance, one entry for each time.
///
/// # Errors
/// [`MotionFailure::NoOnset`] where the marks follow the run-up throughout, [`MotionFailure::TooFewMarks`] where the
/// run-up or the start is hardly marked, and faults of settings and marks.
pub fn onset(times_s: &[f64], samples: &[Sample], options: &OnsetOptions) -> Result<Onset, MotionFailure> {
    options.check()?;
    samples::check(times_s, samples)?;
    let marks: Vec<(f64, f64, f64)> =
        samples::marked(times_s, samples, options.search_s.0, options.search_s.1).collect();
    let departure = detect::departure(&marks, options)?;
    // A window is often a whole number of frames: a slightly other film speed must not take one in or out.
    let slack_s = 0.25 * departure.spacing_s;
    let window =
        (departure.time_s - options.before_s - slack_s, departure.time_s + options.after_s + slack_s);
    let inside: Vec<(f64, f64, f64)> =
        marks.iter().copied().filter(|mark| (window.0..=window.1).contains(&mark.0)).collect();
    let bounds = (departure.time_s - 0.5 * options.before_s, departure.time_s);
    let fits: Vec<Kink> =
        RISES.iter().filter_map(|share| kink::fit(&inside, share * options.after_s, bounds)).collect();
    let best = fits.iter().min_by(|a, b| a.chi2.total_cmp(&b.chi2));
    let what = "onset";
    let best =
        best.ok_or(MotionFailure::Degenerate { what, why: "the marks about the kink do not determine it" })?;
    let straight = kink::straight_chi2(&inside).ok_or(MotionFailure::NoOnset)?;
    let scale = departure.noise_scale.max(1.0);
    let significance = (straight - best.chi2) / (scale * scale);
    if significance < LEAST_SIGNIFICANCE {
        return Err(MotionFailure::NoOnset);
    }
    Ok(averaged(best, &fits, scale, significance, inside.len()))
}

/// Averages the fits by their likelihood.
#[expect(clippy::cast_precision_loss, reason = "counts of marks")]
fn averaged(best: &Kink, fits: &[Kink], scale: f64, significance: f64, n_marks: usize) -> Onset {
    let weight = |fit: &Kink| (-0.5 * (fit.chi2 - best.chi2) / (scale * scale)).exp();
    let total: f64 = fits.iter().map(weight).sum();
    let mean = |of: &dyn Fn(&Kink) -> f64| fits.iter().map(|fit| weight(fit) * of(fit)).sum::<f64>() / total;
    let (time_s, speed_m_s) = (mean(&|fit| fit.time_s), mean(&|fit| fit.speed_m_s));
    let noise = scale * scale;
    let time_var = mean(&|fit| fit.time_var * noise + (fit.time_s - time_s).powi(2));
    let speed_var = mean(&|fit| fit.speed_var * noise + (fit.speed_m_s - speed_m_s).powi(2));
    let dof = n_marks.saturating_sub(kink::N_PARAMETERS).max(1) as f64;
    Onset {
        time: Uncertain::new(Seconds::from_s(time_s), Seconds::from_s(time_var.sqrt())),
        speed_before: Uncertain::new(Speed::from_m_s(speed_m_s), Speed::from_m_s(speed_var.sqrt())),
        residual_rms_m: (best.squares_m2 / n_marks as f64).sqrt(),
        chi2_per_dof: best.chi2 / dof,
        significance,
        n_marks,
    }
}

#[cfg(test)]
mod tests;
