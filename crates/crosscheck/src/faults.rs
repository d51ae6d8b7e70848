//! Which faults the evidence points to: nested fits with and without each term, and the limits.

use crate::fit::{Fit, Known, fit};
use crate::system::System;
use crate::verdict::text;
use crate::{CrosscheckOptions, Fault, Measured, Suspected};

/// Smallest standard uncertainties with which a sound channel is held: keeps the equations well scaled.
const LEAST_U: Sound = Sound { gain: 1e-4, offset_m_s2: 1e-3, lag_s: 1e-6 };

/// How far from gain 1, offset 0 and lag 0 a sound channel may appear, for the film's own doubts alone.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sound {
    pub(crate) gain: f64,
    pub(crate) offset_m_s2: f64,
    pub(crate) lag_s: f64,
}

/// What the full fit found, with uncertainties that include the film's own.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Found {
    pub(crate) gain: Option<Measured>,
    pub(crate) offset_m_s2: Measured,
    pub(crate) lag_s: Option<Measured>,
    pub(crate) correlation: f64,
    /// What the covariance and differences of χ² are widened by; at least 1.
    pub(crate) widening: f64,
}

impl Found {
    /// Whether the channel is reversed rather than merely unlike.
    pub(crate) fn reversed(&self, options: &CrosscheckOptions) -> bool {
        self.gain.is_some_and(|gain| gain.value < 0.0) && self.correlation < -options.polarity_correlation
    }
}

/// The faults beyond limit, uncertainty and BIC penalty, strongest evidence first.
pub(crate) fn suspected_faults(
    system: &System<'_>,
    full: &Fit,
    known: &Known,
    found: &Found,
    sound: Sound,
    options: &CrosscheckOptions,
) -> Vec<Suspected> {
    let evidence = Evidence { system, full, known, found, sound, options };
    let mut suspected: Vec<Suspected> =
        [evidence.polarity(), evidence.gain(), evidence.offset(), evidence.delay()]
            .into_iter()
            .flatten()
            .collect();
    suspected.sort_by(|a, b| b.bic_gain.total_cmp(&a.bic_gain));
    suspected
}

struct Evidence<'a> {
    system: &'a System<'a>,
    full: &'a Fit,
    known: &'a Known,
    found: &'a Found,
    sound: Sound,
    options: &'a CrosscheckOptions,
}

impl Evidence<'_> {
    fn polarity(&self) -> Option<Suspected> {
        if !self.found.reversed(self.options) {
            return None;
        }
        let upright = Known { inverse_gain: Some((1.0, self.gain_u())), ..*self.known };
        let bic_gain = self.bic_gain(&upright, self.full.lag_s)?;
        let evidence = format!("reads the reverse of the film: correlation {:.3}", self.found.correlation);
        Some(Suspected { fault: Fault::Polarity, evidence, bic_gain })
    }

    fn gain(&self) -> Option<Suspected> {
        let gain = self.found.gain?;
        let sign = if self.found.reversed(self.options) { -1.0 } else { 1.0 };
        let limit = self.options.gain_limit;
        if !self.beyond(gain.value - sign, gain.u, limit) {
            return None;
        }
        let sound = Known { inverse_gain: Some((sign, self.gain_u())), ..*self.known };
        let bic_gain = self.bic_gain(&sound, self.full.lag_s)?;
        let evidence = format!("gain {}, limit 1 ± {limit}", text(gain, ""));
        Some(Suspected { fault: Fault::Gain, evidence, bic_gain })
    }

    fn offset(&self) -> Option<Suspected> {
        let offset = self.found.offset_m_s2;
        let limit = self.options.offset_limit_m_s2;
        if !self.beyond(offset.value, offset.u, limit) {
            return None;
        }
        let u = self.sound.offset_m_s2.max(LEAST_U.offset_m_s2);
        let sound = Known { offset: Some((0.0, u)), ..*self.known };
        let bic_gain = self.bic_gain(&sound, self.full.lag_s)?;
        let evidence = format!("offset {}, limit {limit:.3} m/s²", text(offset, " m/s²"));
        Some(Suspected { fault: Fault::Offset, evidence, bic_gain })
    }

    fn delay(&self) -> Option<Suspected> {
        let lag = self.found.lag_s?;
        let limit_ms = self.options.lag_limit_s * 1e3;
        if !self.beyond(lag.value, lag.u, self.options.lag_limit_s) {
            return None;
        }
        let sound = Known { lag: Some((0.0, self.sound.lag_s.max(LEAST_U.lag_s))), ..*self.known };
        let bic_gain = self.bic_gain(&sound, 0.0)?;
        let lag_ms = Measured { value: lag.value * 1e3, u: lag.u * 1e3 };
        let evidence = format!("lag {}, limit {limit_ms} ms", text(lag_ms, " ms"));
        Some(Suspected { fault: Fault::Delay, evidence, bic_gain })
    }

    fn gain_u(&self) -> f64 {
        self.sound.gain.max(LEAST_U.gain)
    }

    fn beyond(&self, deviation: f64, u: f64, limit: f64) -> bool {
        deviation.abs() - self.options.coverage * u > limit
    }

    /// Fall of the criterion when the term is freed; `None` when it does not fall.
    #[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^53")]
    fn bic_gain(&self, without: &Known, start_lag_s: f64) -> Option<f64> {
        // A fit that does not settle without the term is no explanation at all.
        let chi2 = fit(self.system, start_lag_s, without).map_or(f64::MAX, |without| without.chi2);
        let penalty = (self.system.n_frames() as f64).ln();
        let bic_gain = (chi2 - self.full.chi2) / self.found.widening - penalty;
        (bic_gain > 0.0).then_some(bic_gain)
    }
}
