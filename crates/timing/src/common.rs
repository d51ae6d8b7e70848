//! Clocks of several cameras and sensors made one, from instants that they share and from lags between pairs.

use crate::common_report::{ClockCorrection, CommonClock, ObservationResidual, Places};
use crate::error::setting;
use crate::least_squares::{Solved, solve};
use crate::quantiles::reduced_chi2_99;
use crate::{TimingError, TimingNote};
use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

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
    let reference = reference(clocks, options)?;
    let links = links(clocks, observations)?;
    let connected = connected(clocks.len(), reference, &links);
    let mut notes: Vec<TimingNote> = Vec::new();
    let unconnected: Vec<String> =
        clocks.iter().zip(&connected).filter(|&(_, &is)| !is).map(|(clock, _)| clock.clone()).collect();
    notes.extend(unconnected.iter().map(|clock| TimingNote::ClockUnconnected { clock: clock.clone() }));
    let used: Vec<Link> = links.into_iter().filter(|link| connected[link.first.0]).collect();
    if connected.iter().filter(|&&is| is).count() < 2 {
        let why = "no clock shares an observation with the reference; mark a flash that both see".to_owned();
        return Err(TimingError::NotDetermined { what: "common clock", why });
    }
    let may_drift = drifting(clocks.len(), reference, &used, options);
    let solved = System::new(clocks.len(), reference, &connected, &used, &may_drift, options).solved();
    let (system, solved) = match solved {
        Some(solved) => solved,
        None => System::new(clocks.len(), reference, &connected, &used, &vec![false; clocks.len()], options)
            .solved()
            .ok_or_else(|| TimingError::NotDetermined {
                what: "common clock",
                why: "the observations do not determine every offset; mark one more shared flash".to_owned(),
            })?,
    };
    Ok(report(clocks, observations, reference, &connected, &system, &solved, unconnected, notes, options))
}

fn reference(clocks: &[String], options: &CommonOptions) -> Result<usize, TimingError> {
    if clocks.is_empty() {
        return Err(TimingError::TooFew { what: "clocks for a common clock", found: 0, needed: 2 });
    }
    options.reference.as_ref().map_or(Ok(0), |name| place(clocks, name))
}

fn place(clocks: &[String], name: &str) -> Result<usize, TimingError> {
    let unknown = || TimingError::UnknownClock { name: name.to_owned() };
    clocks.iter().position(|clock| clock == name).ok_or_else(unknown)
}

/// Two readings of the same instant: of two clocks, or of a clock and an event.
#[derive(Debug, Clone, Copy)]
struct Link {
    /// Clock and reading.
    first: (usize, f64),
    second: Other,
    u_s: f64,
    /// Place in the list of observations.
    index: usize,
}

#[derive(Debug, Clone, Copy)]
enum Other {
    Clock(usize, f64),
    Event(usize),
}

/// Observations with names replaced by places; events that one clock alone reads tie nothing and are left out.
fn links(clocks: &[String], observations: &[Observation]) -> Result<Vec<Link>, TimingError> {
    let mut readers: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for observation in observations {
        if let Observation::Instant { event, clock, .. } = observation {
            readers.entry(event).or_default().push(clock);
        }
    }
    readers.retain(|_, clocks| clocks.iter().any(|clock| *clock != clocks[0]));
    let mut links = Vec::new();
    for (index, observation) in observations.iter().enumerate() {
        let (numbers, u_s) = match observation {
            Observation::Instant { time_s, u_s, .. } => ([*time_s, 0.0], *u_s),
            Observation::Lag { at_s, lag_s, u_s, .. } => ([*at_s, *lag_s], *u_s),
        };
        if !(numbers.iter().all(|number| number.is_finite()) && u_s.is_finite() && u_s > 0.0) {
            return Err(TimingError::Unusable { what: "observations for a common clock", index });
        }
        let (first, second) = match observation {
            Observation::Instant { event, clock, .. } => {
                let first = place(clocks, clock)?;
                let Some(event) = readers.keys().position(|name| name == event) else { continue };
                ((first, numbers[0]), Other::Event(event))
            }
            Observation::Lag { first, second, .. } => (
                (place(clocks, first)?, numbers[0]),
                Other::Clock(place(clocks, second)?, numbers[0] + numbers[1]),
            ),
        };
        links.push(Link { first, second, u_s, index });
    }
    Ok(links)
}

/// Which clocks reach the reference.
fn connected(n_clocks: usize, reference: usize, links: &[Link]) -> Vec<bool> {
    // Events are numbered behind the clocks.
    let ends = |link: &Link| match link.second {
        Other::Clock(clock, _) => [link.first.0, clock],
        Other::Event(event) => [link.first.0, n_clocks + event],
    };
    let n_nodes = links.iter().flat_map(ends).map(|node| node + 1).fold(n_clocks, usize::max);
    let mut reached = vec![false; n_nodes];
    reached[reference] = true;
    while let Some([one, other]) = links.iter().map(ends).find(|&[one, other]| reached[one] != reached[other])
    {
        reached[one] = true;
        reached[other] = true;
    }
    reached.truncate(n_clocks);
    reached
}

/// Readings of each clock.
fn readings(n_clocks: usize, links: &[Link]) -> Vec<Vec<f64>> {
    let mut readings = vec![Vec::new(); n_clocks];
    for link in links {
        readings[link.first.0].push(link.first.1);
        if let Other::Clock(clock, reading_s) = link.second {
            readings[clock].push(reading_s);
        }
    }
    readings
}

fn drifting(n_clocks: usize, reference: usize, links: &[Link], options: &CommonOptions) -> Vec<bool> {
    let readings = readings(n_clocks, links);
    (0..n_clocks)
        .map(|clock| match options.drift {
            Drift::None => false,
            Drift::Within { .. } => clock != reference,
            Drift::Free => {
                let [first, last] = span(&readings[clock]);
                clock != reference && last - first >= options.least_span_s
            }
        })
        .collect()
}

fn span(readings: &[f64]) -> [f64; 2] {
    readings
        .iter()
        .fold([f64::INFINITY, f64::NEG_INFINITY], |[first, last], &at| [first.min(at), last.max(at)])
}

/// The equations: reading + correction is the same for both sides of a link.
struct System {
    links: Vec<Link>,
    places: Vec<Places>,
    middles_s: Vec<f64>,
    design: DMatrix<f64>,
    data: DVector<f64>,
    u_s: Vec<f64>,
}

impl System {
    fn new(
        n_clocks: usize,
        reference: usize,
        connected: &[bool],
        links: &[Link],
        may_drift: &[bool],
        options: &CommonOptions,
    ) -> Self {
        let mut n_terms = 0;
        let mut next = |wanted: bool| {
            n_terms += usize::from(wanted);
            wanted.then(|| n_terms - 1)
        };
        let places: Vec<Places> = (0..n_clocks)
            .map(|clock| {
                let is_fitted = connected[clock] && clock != reference;
                Places { offset: next(is_fitted), drift: next(is_fitted && may_drift[clock]) }
            })
            .collect();
        let mut events: BTreeMap<usize, Option<usize>> = BTreeMap::new();
        for link in links {
            if let Other::Event(event) = link.second {
                events.entry(event).or_insert_with(|| next(true));
            }
        }
        let middles_s: Vec<f64> = readings(n_clocks, links).iter().map(|all| middle(all)).collect();
        let prior_u = if let Drift::Within { u } = options.drift { Some(u) } else { None };
        let drifts: Vec<usize> = if prior_u.is_some() {
            places.iter().filter_map(|place| place.drift).collect()
        } else {
            Vec::new()
        };
        let mut design = DMatrix::zeros(links.len() + drifts.len(), n_terms);
        let mut data = DVector::zeros(links.len() + drifts.len());
        let mut u_s: Vec<f64> = links.iter().map(|link| link.u_s).collect();
        for (row, link) in links.iter().enumerate() {
            let mut add = |clock: usize, reading_s: f64, sign: f64| {
                if let Some(at) = places[clock].offset {
                    design[(row, at)] += sign;
                }
                if let Some(at) = places[clock].drift {
                    design[(row, at)] += sign * (reading_s - middles_s[clock]);
                }
                data[row] -= sign * reading_s;
            };
            add(link.first.0, link.first.1, 1.0);
            match link.second {
                Other::Clock(clock, reading_s) => add(clock, reading_s, -1.0),
                Other::Event(event) => {
                    if let Some(at) = events[&event] {
                        design[(row, at)] = -1.0;
                    }
                }
            }
        }
        for (place, &at) in drifts.iter().enumerate() {
            design[(links.len() + place, at)] = 1.0;
            u_s.extend(prior_u);
        }
        Self { links: links.to_vec(), places, middles_s, design, data, u_s }
    }

    fn solved(self) -> Option<(Self, Solved)> {
        let solved = solve(&self.design, &self.data, &self.u_s)?;
        Some((self, solved))
    }
}

#[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
fn middle(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}

#[expect(clippy::too_many_arguments, reason = "gathers what the steps before it found")]
fn report(
    clocks: &[String],
    observations: &[Observation],
    reference: usize,
    connected: &[bool],
    system: &System,
    solved: &Solved,
    unconnected: Vec<String>,
    mut notes: Vec<TimingNote>,
    options: &CommonOptions,
) -> CommonClock {
    let widening = if solved.freedom > 0 { solved.reduced().max(1.0).sqrt() } else { 1.0 };
    if solved.freedom > 0 && solved.reduced() > reduced_chi2_99(solved.freedom) {
        notes.push(TimingNote::ResidualsLarge { widening });
    }
    let residuals = residuals(system, solved);
    for residual in &residuals {
        if let Some(ratio) = residual.ratio.filter(|ratio| ratio.abs() > DISAGREES) {
            let observation = words(&observations[residual.index]);
            notes.push(TimingNote::ObservationDisagrees { observation, ratio });
        }
    }
    let covariance = &solved.covariance * (widening * widening);
    let u = |at: usize| covariance[(at, at)].max(0.0).sqrt();
    let kept: Vec<usize> = (0..clocks.len()).filter(|&clock| connected[clock]).collect();
    let corrections = kept.iter().map(|&clock| {
        let place = system.places[clock];
        ClockCorrection {
            clock: clocks[clock].clone(),
            offset_s: place.offset.map_or(0.0, |at| solved.values[at]),
            offset_u_s: place.offset.map_or(0.0, u),
            at_s: system.middles_s[clock],
            drift: place.drift.map(|at| solved.values[at]),
            drift_u: place.drift.map(u),
        }
    });
    let corrections: Vec<ClockCorrection> = corrections.collect();
    if options.drift == Drift::Free {
        let held = kept.iter().filter(|&&clock| clock != reference && system.places[clock].drift.is_none());
        notes.extend(held.map(|&clock| TimingNote::DriftHeld { clock: clocks[clock].clone() }));
    }
    CommonClock {
        reference: clocks[reference].clone(),
        corrections,
        unconnected,
        residuals,
        chi2: solved.chi2,
        freedom: solved.freedom,
        widening,
        notes,
        places: kept.iter().map(|&clock| system.places[clock]).collect(),
        covariance,
    }
}

/// Residuals of the observations, each with its own uncertainty: what the fit takes of it is no longer free to vary.
fn residuals(system: &System, solved: &Solved) -> Vec<ObservationResidual> {
    let fitted = &system.design * &solved.covariance * system.design.transpose();
    let rows = system.links.iter().enumerate();
    rows.map(|(row, link)| {
        let residual_s = solved.residuals[row];
        let variance = link.u_s * link.u_s - fitted[(row, row)];
        // Less than a millionth of the stated variance left: nothing else checks this observation.
        let ratio = (variance > 1e-6 * link.u_s * link.u_s).then(|| residual_s / variance.sqrt());
        ObservationResidual { index: link.index, residual_s, ratio }
    })
    .collect()
}

fn words(observation: &Observation) -> String {
    match observation {
        Observation::Instant { event, clock, .. } => format!("\"{event}\" on clock \"{clock}\""),
        Observation::Lag { first, second, .. } => format!("the lag between \"{first}\" and \"{second}\""),
    }
}
