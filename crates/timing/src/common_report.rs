//! The common clock of several cameras and sensors: corrections to a reference, with covariance and residuals.

use crate::TimingNote;
use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

/// What to add to one clock's readings to get the reference's: offset + drift · (reading − `at_s`).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClockCorrection {
    /// Name of the clock.
    pub clock: String,
    /// Correction at the reading `at_s`, s.
    pub offset_s: f64,
    /// Standard uncertainty of it, s; 0 for the reference.
    pub offset_u_s: f64,
    /// Reading at which the offset holds: the middle of this clock's observations, s.
    pub at_s: f64,
    /// Rate of the reference over this clock's, less 1; `None` where it was held at 0.
    pub drift: Option<f64>,
    /// Standard uncertainty of it.
    pub drift_u: Option<f64>,
}

/// How far one observation lies from the common clock.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ObservationResidual {
    /// Place in the list of observations.
    pub index: usize,
    /// The observation less the fit, s.
    pub residual_s: f64,
    /// The residual divided by its own standard uncertainty; `None` where no other observation checks this one.
    pub ratio: Option<f64>,
}

/// Every connected clock against the reference.
#[derive(Debug, Clone, PartialEq)]
pub struct CommonClock {
    /// Name of the reference.
    pub reference: String,
    /// Connected clocks in the order given, the reference among them.
    pub corrections: Vec<ClockCorrection>,
    /// Clocks that share no observation with the reference, directly or through others.
    pub unconnected: Vec<String>,
    /// Residual of each observation used.
    pub residuals: Vec<ObservationResidual>,
    /// Residual sum of squares over the stated variances.
    pub chi2: f64,
    /// Degrees of freedom of `chi2`.
    pub freedom: usize,
    /// Factor by which every uncertainty was widened; 1 where residuals are as stated.
    pub widening: f64,
    /// What is doubtful.
    pub notes: Vec<TimingNote>,
    /// Place of each clock's offset and drift among the fitted terms.
    pub(crate) places: Vec<Places>,
    /// Of the fitted terms, widened.
    pub(crate) covariance: DMatrix<f64>,
}

/// Where one clock's terms are; `None` for what is held at 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Places {
    pub(crate) offset: Option<usize>,
    pub(crate) drift: Option<usize>,
}

impl CommonClock {
    /// The correction of one clock.
    #[must_use]
    pub fn correction(&self, clock: &str) -> Option<&ClockCorrection> {
        self.corrections.iter().find(|correction| correction.clock == clock)
    }

    /// A reading turned into the reference's time, with the standard uncertainty of the turning alone, s; `None` for a
    /// clock that is not connected.
    #[must_use]
    pub fn to_reference_s(&self, clock: &str, reading_s: f64) -> Option<(f64, f64)> {
        let (correction_s, weights) = self.weights(clock, reading_s)?;
        Some((reading_s + correction_s, self.u(&weights)))
    }

    /// Time from a reading on one clock to a reading on another, with the standard uncertainty of the clocks' part, s.
    #[must_use]
    pub fn interval_s(&self, from: (&str, f64), to: (&str, f64)) -> Option<(f64, f64)> {
        let (from_correction_s, from_weights) = self.weights(from.0, from.1)?;
        let (to_correction_s, to_weights) = self.weights(to.0, to.1)?;
        let interval_s = to.1 - from.1 + to_correction_s - from_correction_s;
        Some((interval_s, self.u(&(to_weights - from_weights))))
    }

    fn weights(&self, clock: &str, reading_s: f64) -> Option<(f64, DVector<f64>)> {
        let place = self.corrections.iter().position(|correction| correction.clock == clock)?;
        let correction = &self.corrections[place];
        let from_middle_s = reading_s - correction.at_s;
        let mut weights = DVector::zeros(self.covariance.nrows());
        if let Some(at) = self.places[place].offset {
            weights[at] = 1.0;
        }
        if let Some(at) = self.places[place].drift {
            weights[at] = from_middle_s;
        }
        Some((correction.offset_s + correction.drift.unwrap_or(0.0) * from_middle_s, weights))
    }

    fn u(&self, weights: &DVector<f64>) -> f64 {
        weights.dot(&(&self.covariance * weights)).max(0.0).sqrt()
    }
}
