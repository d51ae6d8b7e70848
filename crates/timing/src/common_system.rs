//! The equations of a common clock: which clocks the observations tie, and what they say of each correction.

use crate::TimingError;
use crate::common::{CommonOptions, Drift, Observation};
use crate::common_report::Places;
use crate::least_squares::{Solved, solve};
use nalgebra::{DMatrix, DVector};
use std::collections::BTreeMap;

/// Clocks, and the observations that tie those which reach the reference.
pub(crate) struct Network<'a> {
    clocks: &'a [String],
    options: &'a CommonOptions,
    pub(crate) reference: usize,
    /// For each clock, whether it reaches the reference.
    pub(crate) connected: Vec<bool>,
    links: Vec<Link>,
}

impl<'a> Network<'a> {
    pub(crate) fn new(
        clocks: &'a [String],
        observations: &[Observation],
        options: &'a CommonOptions,
    ) -> Result<Self, TimingError> {
        let reference = options.reference.as_ref().map_or(Ok(0), |name| place(clocks, name))?;
        let mut links = links(clocks, observations)?;
        let connected = connected(clocks.len(), reference, &links);
        links.retain(|link| connected[link.first.0]);
        Ok(Self { clocks, options, reference, connected, links })
    }

    /// Whether rates were to be fitted without any knowledge beforehand.
    pub(crate) fn rates_are_free(&self) -> bool {
        self.options.drift == Drift::Free
    }

    /// Readings of each clock.
    fn readings(&self) -> Vec<Vec<f64>> {
        let mut readings = vec![Vec::new(); self.clocks.len()];
        for link in &self.links {
            readings[link.first.0].push(link.first.1);
            if let Other::Clock(clock, reading_s) = link.second {
                readings[clock].push(reading_s);
            }
        }
        readings
    }

    /// For each clock, whether its rate is fitted.
    fn drifting(&self) -> Vec<bool> {
        let spans_enough = |readings: &[f64]| {
            let first = readings.iter().copied().fold(f64::INFINITY, f64::min);
            let last = readings.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            last - first >= self.options.least_span_s
        };
        let readings = self.readings();
        let may = |clock: usize| match self.options.drift {
            Drift::None => false,
            Drift::Within { .. } => true,
            Drift::Free => spans_enough(&readings[clock]),
        };
        (0..self.clocks.len())
            .map(|clock| clock != self.reference && self.connected[clock] && may(clock))
            .collect()
    }

    /// The solved equations; where free rates are not determined, with all rates held.
    pub(crate) fn solved(&self) -> Result<(System, Solved), TimingError> {
        let attempt = |drifting: &[bool]| {
            let system = System::new(self, drifting);
            let solved = solve(&system.design, &system.data, &system.u_s)?;
            Some((system, solved))
        };
        attempt(&self.drifting()).or_else(|| attempt(&vec![false; self.clocks.len()])).ok_or_else(|| {
            let why = "the observations do not determine every offset; mark one more shared flash".to_owned();
            TimingError::NotDetermined { what: "common clock", why }
        })
    }
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

/// The equations: reading + correction is the same for both sides of a link.
pub(crate) struct System {
    /// Place in the list of observations and stated uncertainty of each of the first rows; rows of what is known of
    /// rates beforehand follow.
    pub(crate) observed: Vec<(usize, f64)>,
    pub(crate) places: Vec<Places>,
    /// Middle reading of each clock, s.
    pub(crate) middles_s: Vec<f64>,
    pub(crate) design: DMatrix<f64>,
    data: DVector<f64>,
    u_s: Vec<f64>,
}

impl System {
    fn new(network: &Network<'_>, drifting: &[bool]) -> Self {
        let (places, events, n_terms) = terms(network, drifting);
        let middles_s: Vec<f64> = network.readings().iter().map(|all| middle(all)).collect();
        let known_u = if let Drift::Within { u } = network.options.drift { Some(u) } else { None };
        let known: Vec<(usize, f64)> =
            places.iter().filter_map(|place| Some((place.drift?, known_u?))).collect();
        let links = &network.links;
        let mut design = DMatrix::zeros(links.len() + known.len(), n_terms);
        let mut data = DVector::zeros(links.len() + known.len());
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
                Other::Event(event) => design[(row, events[&event])] = -1.0,
            }
        }
        for (row, &(at, _)) in known.iter().enumerate() {
            design[(links.len() + row, at)] = 1.0;
        }
        let u_s = links.iter().map(|link| link.u_s).chain(known.iter().map(|&(_, u)| u)).collect();
        let observed = links.iter().map(|link| (link.index, link.u_s)).collect();
        Self { observed, places, middles_s, design, data, u_s }
    }
}

/// Numbers the unknowns: offset and rate of each clock, and the time of each event.
fn terms(network: &Network<'_>, drifting: &[bool]) -> (Vec<Places>, BTreeMap<usize, usize>, usize) {
    let mut n_terms = 0;
    let mut next = || {
        n_terms += 1;
        n_terms - 1
    };
    let mut places = vec![Places::default(); network.clocks.len()];
    for (clock, place) in places.iter_mut().enumerate() {
        if network.connected[clock] && clock != network.reference {
            place.offset = Some(next());
            place.drift = drifting[clock].then(&mut next);
        }
    }
    let mut events = BTreeMap::new();
    for link in &network.links {
        if let Other::Event(event) = link.second {
            events.entry(event).or_insert_with(&mut next);
        }
    }
    (places, events, n_terms)
}

#[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
fn middle(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}
