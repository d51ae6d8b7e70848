//! Findings of one camera for one state of its inputs, before their systematic doubts are added.

mod approach;
mod balance;
mod impact;
mod meeting;
mod occupant;
mod posture;
mod pulse;
mod rest;
mod shape;

pub(crate) use balance::{Balance, balance};
pub(crate) use meeting::common;
pub(crate) use occupant::{CAUTION as OCCUPANT_CAUTION, free_flight};

use super::evaluate::{CameraMotion, Inputs};
use filmgauge_motion::{Extreme, Side, Smoothed};

/// A finding with the part of its uncertainty that comes from the marks alone.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Raw {
    pub(crate) name: &'static str,
    pub(crate) subject: String,
    pub(crate) unit: &'static str,
    pub(crate) made: Result<Made, String>,
    pub(crate) method: String,
    pub(crate) caution: Option<String>,
    /// Doubts that do not come by way of the film, such as a mass: what, and its share of the standard uncertainty.
    pub(crate) also: Vec<(String, f64)>,
    /// Where it could not be made: whether the test holds no such thing, so that nobody need act.
    pub(crate) absent: bool,
}

/// What a finding that could be made says.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Made {
    pub(crate) value: f64,
    /// Standard uncertainty from the marks' noise, in the finding's unit.
    pub(crate) marks_u: f64,
    /// Interval of the film used, s.
    pub(crate) interval_s: [f64; 2],
}

impl Raw {
    pub(crate) fn new(
        name: &'static str,
        subject: &str,
        unit: &'static str,
        made: Result<Made, Why>,
        method: impl Into<String>,
    ) -> Self {
        let (subject, method) = (subject.to_owned(), method.into());
        let absent = matches!(made, Err(Why::Absent(_)));
        let made = made.map_err(Why::text);
        Self { name, subject, unit, made, method, caution: None, also: Vec::new(), absent }
    }

    pub(crate) fn is(&self, other: &Self) -> bool {
        self.name == other.name && self.subject == other.subject
    }
}

/// Why there is no value.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Why {
    /// The test holds no such thing.
    Absent(String),
    /// It could not be measured.
    Failed(String),
}

impl Why {
    pub(crate) fn absent(text: &str) -> Self {
        Self::Absent(text.to_owned())
    }

    fn text(self) -> String {
        match self {
            Self::Absent(text) | Self::Failed(text) => text,
        }
    }
}

impl From<String> for Why {
    fn from(text: String) -> Self {
        Self::Failed(text)
    }
}

impl From<&str> for Why {
    fn from(text: &str) -> Self {
        Self::Failed(text.to_owned())
    }
}

/// Everything that one camera can say.
pub(crate) fn findings(inputs: &Inputs<'_>, motion: &CameraMotion) -> Vec<Raw> {
    let mut list = impact::findings(inputs, motion);
    list.extend(approach::findings(inputs, motion, &list));
    if inputs.camera.view == filmgauge_quantities::ViewPlane::Side {
        list.extend(meeting::findings(inputs, motion, &list));
        list.extend(pulse::findings(inputs, motion));
        list.extend(posture::findings(inputs, motion));
        list.extend(shape::findings(inputs, motion));
        list.extend(occupant::findings(inputs, motion));
        list.extend(balance::findings(inputs, motion));
    }
    list.extend(rest::findings(inputs, motion));
    list
}

/// The extreme of a curve's derivative from contact to the end of the film.
fn after_contact(
    motion: &CameraMotion,
    curve: &Smoothed,
    order: usize,
    side: Side,
) -> Result<Extreme, String> {
    filmgauge_motion::extreme(curve, order, side, (motion.contact_s(), f64::INFINITY))
        .map_err(|failure| format!("the film does not go on long enough after contact ({failure})"))
}

/// Greatest value of a curve after contact, and when: two findings of one search.
fn greatest_and_time(
    motion: &CameraMotion,
    curve: &Smoothed,
    what: &str,
) -> (Result<Made, String>, Result<Made, String>) {
    let peak = after_contact(motion, curve, 0, Side::Greatest);
    let interval_s = |peak: &Extreme| [motion.contact_s(), peak.time.as_s()];
    let value =
        peak.clone().map(|peak| Made { value: peak.value, marks_u: peak.u, interval_s: interval_s(&peak) });
    let time = peak.and_then(|peak| {
        if let Some([from_s, to_s]) = flat_top(curve, &peak, motion.contact_s()) {
            let middle_s = f64::midpoint(from_s, to_s);
            let marks_u = (to_s - from_s) / 12.0_f64.sqrt();
            return Ok(Made { value: middle_s, marks_u, interval_s: interval_s(&peak) });
        }
        let marks_u = peak.time_u.ok_or_else(|| format!("the {what} has no peak within the film"))?.as_s();
        Ok(Made { value: peak.time.as_s(), marks_u, interval_s: interval_s(&peak) })
    });
    (value, time)
}

/// How far a curve may fall below its peak and still be at it, in standard uncertainties.
const LEVEL_SIGMAS: f64 = 2.0;
/// A top whose bend does not stand out by so many standard uncertainties is flat.
const BENT_SIGMAS: f64 = 3.0;

/// From when to when a curve is at its greatest value, where that is reached and held: the peak may then lie anywhere in
/// between.
fn flat_top(curve: &Smoothed, peak: &Extreme, from_s: f64) -> Option<[f64; 2]> {
    let (state, cov) = curve.at(peak.time.as_s())?;
    if state[2].abs() > BENT_SIGMAS * cov[2][2].max(0.0).sqrt() {
        return None;
    }
    let at_top = |index: &usize| curve.states[*index][0] > peak.value - LEVEL_SIGMAS * peak.u;
    let after = curve.times_s.partition_point(|&time_s| time_s < from_s);
    let first = (after..curve.times_s.len()).find(at_top)?;
    let last = (after..curve.times_s.len()).rfind(at_top)?;
    Some([curve.times_s[first], curve.times_s[last]])
}
