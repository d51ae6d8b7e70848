//! Clocks of several cameras and sensors made one, from instants that they share and from lags between pairs.

use crate::common_report::{ClockCorrection, CommonClock, ObservationResidual};
use crate::common_system::{Network, System};
use crate::error::setting;
use crate::least_squares::Solved;
use crate::quantiles::reduced_chi2_99;
use crate::{TimingError, TimingNote};
use nalgebra::DMatrix;
use serde::{Deserialize, Serialize};

/// A residual of more than this many of its standard uncertainties is named.
const DISAGREES: f64 = 3.5;

/// Something that ties clocks together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Observation {
    /// A clock's reading at an event that other clocks read too: a flash, a switch.
    Instant {
        /// Name of the event, the same for every clock that reads it.
        event: String,
        /// Name of the clock.
        clock: String,
        /// Its reading, s.
        time_s: f64,
        /// Standard uncertainty, s.
        u_s: f64,
    },
    /// What a second clock reads more than a first one at the same instant, as from [`crate::lag_between`].
    Lag {
        /// Name of the first clock.
        first: String,
        /// Name of the second clock.
        second: String,
        /// Reading of the first clock about which the lag holds, s.
        at_s: f64,
        /// Reading of the second less reading of the first, s.
        lag_s: f64,
        /// Standard uncertainty, s.
        u_s: f64,
    },
}

/// Whether clocks may run at different rates.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Drift {
    /// All rates are equal.
    #[default]
    None,
    /// Each rate is free, where a clock has observations far enough apart.
    Free,
    /// Each rate differs from the reference's with this standard uncertainty, and is fitted within it.
    Within {
        /// As a share of the rate; above 0.
        u: f64,
    },
}

/// How a common clock is made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CommonOptions {
    /// Name of the clock that the others are referred to; the first when not given.
    pub reference: Option<String>,
    /// Whether rates may differ.
    pub drift: Drift,
    /// Observations of a clock must span this much for its rate to be free, s.
    pub least_span_s: f64,
}

impl Default for CommonOptions {
    fn default() -> Self {
        Self { reference: None, drift: Drift::None, least_span_s: 0.1 }
    }
}

impl CommonOptions {
    /// Whether the settings make sense.
    ///
    /// # Errors
    /// [`TimingError::Setting`] names the one that does not.
    pub fn check(&self) -> Result<(), TimingError> {
        setting("least_span_s", self.least_span_s, "it must be above 0", |span| span > 0.0)?;
        match self.drift {
            Drift::Within { u } => {
                setting("drift.u", u, "it must be above 0 and at most 0.5", |u| u > 0.0 && u <= 0.5)
            }
            Drift::None | Drift::Free => Ok(()),
        }
    }
}

/// Makes one clock of several: weighted least squares for each clock's correction to the reference and for the time of
/// each shared event.
///
/// # Errors
/// [`TimingError`] for settings out of range, no clock, an observation of a clock that is not listed or whose numbers
/// are not usable, and observations none of which reaches the reference.
pub fn common_clock(
    clocks: &[String],
    observations: &[Observation],
    options: &CommonOptions,
) -> Result<CommonClock, TimingError> {
    options.check()?;
    if clocks.is_empty() {
        return Err(TimingError::TooFew { what: "clocks for a common clock", found: 0, needed: 2 });
    }
    if let Some(twice) = (1..clocks.len()).find(|&at| clocks[..at].contains(&clocks[at])) {
        return Err(undetermined(format!(
            "clock \"{}\" is listed twice; give each its own name",
            clocks[twice]
        )));
    }
    let network = Network::new(clocks, observations, options)?;
    if network.connected.iter().filter(|&&is| is).count() < 2 {
        let why = "no clock shares an observation with the reference; mark a flash that both see";
        return Err(undetermined(why.to_owned()));
    }
    let (system, solved) = network.solved()?;
    let widening = if solved.freedom > 0 { solved.reduced().max(1.0).sqrt() } else { 1.0 };
    let residuals = residuals(&system, &solved);
    let kept: Vec<usize> = (0..clocks.len()).filter(|&clock| network.connected[clock]).collect();
    let notes = notes(clocks, observations, &network, &system, &residuals);
    let large = solved.freedom > 0 && solved.reduced() > reduced_chi2_99(solved.freedom);
    let large = large.then_some(TimingNote::ResidualsLarge { widening });
    let covariance = &solved.covariance * (widening * widening);
    let correction = |&clock: &usize| correction(&clocks[clock], clock, &system, &solved, &covariance);
    Ok(CommonClock {
        reference: clocks[network.reference].clone(),
        corrections: kept.iter().map(correction).collect(),
        unconnected: (0..clocks.len()).filter(|at| !kept.contains(at)).map(|at| clocks[at].clone()).collect(),
        residuals,
        chi2: solved.chi2,
        freedom: solved.freedom,
        widening,
        notes: notes.into_iter().chain(large).collect(),
        places: kept.iter().map(|&clock| system.places[clock]).collect(),
        covariance,
    })
}

fn undetermined(why: String) -> TimingError {
    TimingError::NotDetermined { what: "common clock", why }
}

fn correction(
    name: &str,
    clock: usize,
    system: &System,
    solved: &Solved,
    covariance: &DMatrix<f64>,
) -> ClockCorrection {
    let place = system.places[clock];
    let u = |at: usize| covariance[(at, at)].max(0.0).sqrt();
    ClockCorrection {
        clock: name.to_owned(),
        offset_s: place.offset.map_or(0.0, |at| solved.values[at]),
        offset_u_s: place.offset.map_or(0.0, u),
        at_s: system.middles_s[clock],
        drift: place.drift.map(|at| solved.values[at]),
        drift_u: place.drift.map(u),
    }
}

/// Clocks that are not tied, rates that were held although they should be free, and observations that disagree.
fn notes(
    clocks: &[String],
    observations: &[Observation],
    network: &Network<'_>,
    system: &System,
    residuals: &[ObservationResidual],
) -> Vec<TimingNote> {
    let mut notes = Vec::new();
    for (at, clock) in clocks.iter().enumerate() {
        if !network.connected[at] {
            notes.push(TimingNote::ClockUnconnected { clock: clock.clone() });
        } else if network.rates_are_free() && at != network.reference && system.places[at].drift.is_none() {
            notes.push(TimingNote::DriftHeld { clock: clock.clone() });
        }
    }
    for residual in residuals {
        if let Some(ratio) = residual.ratio.filter(|ratio| ratio.abs() > DISAGREES) {
            let observation = words(&observations[residual.index]);
            notes.push(TimingNote::ObservationDisagrees { observation, ratio });
        }
    }
    notes
}

/// Residuals of the observations, each with its own uncertainty: what the fit takes of it is no longer free to vary.
fn residuals(system: &System, solved: &Solved) -> Vec<ObservationResidual> {
    let fitted = &system.design * &solved.covariance * system.design.transpose();
    let rows = system.observed.iter().enumerate();
    rows.map(|(row, &(index, u_s))| {
        let residual_s = solved.residuals[row];
        let variance = u_s * u_s - fitted[(row, row)];
        // Less than a millionth of the stated variance left: nothing else checks this observation.
        let ratio = (variance > 1e-6 * u_s * u_s).then(|| residual_s / variance.sqrt());
        ObservationResidual { index, residual_s, ratio }
    })
    .collect()
}

fn words(observation: &Observation) -> String {
    match observation {
        Observation::Instant { event, clock, .. } => format!("\"{event}\" on clock \"{clock}\""),
        Observation::Lag { first, second, .. } => format!("the lag between \"{first}\" and \"{second}\""),
    }
}
