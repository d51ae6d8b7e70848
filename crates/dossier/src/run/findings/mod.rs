//! Findings of one camera for one state of its inputs, before their systematic doubts are added.

mod impact;
mod occupant;
mod shape;

pub(crate) use occupant::CAUTION as OCCUPANT_CAUTION;

use super::evaluate::{CameraMotion, Inputs};
use filmgauge_motion::Smoothed;

/// A finding with the part of its uncertainty that comes from the marks alone.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Raw {
    pub(crate) name: &'static str,
    pub(crate) subject: String,
    pub(crate) unit: &'static str,
    pub(crate) made: Result<Made, String>,
    pub(crate) method: String,
    pub(crate) caution: Option<String>,
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
    pub(crate) fn is(&self, other: &Self) -> bool {
        self.name == other.name && self.subject == other.subject
    }
}

/// Everything that one camera can say.
pub(crate) fn findings(inputs: &Inputs<'_>, motion: &CameraMotion) -> Vec<Raw> {
    let mut list = impact::findings(inputs, motion);
    if inputs.camera.view == filmgauge_quantities::ViewPlane::Side {
        list.extend(shape::findings(inputs, motion));
        list.extend(occupant::findings(inputs, motion));
    }
    list
}

/// Derivative of a smoothed curve: 0 the value, 1 its rate, 2 its second derivative.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Order {
    Value = 0,
    Rate = 1,
}

/// The sample of greatest `sign * value` from `from_s` on: time, value, standard uncertainty.
fn greatest(curve: &Smoothed, order: Order, sign: f64, from_s: f64) -> Option<(f64, f64, f64)> {
    let k = order as usize;
    let times = curve.times_s.iter().zip(&curve.states).zip(&curve.covs);
    times
        .filter(|((time_s, _), _)| **time_s >= from_s)
        .map(|((time_s, state), cov)| (*time_s, state[k], cov[k][k].max(0.0).sqrt()))
        .max_by(|a, b| (sign * a.1).total_cmp(&(sign * b.1)))
}

/// Standard uncertainty of the time of an extreme: that of the rate over the curvature (first-order propagation).
fn extreme_time_u(curve: &Smoothed, time_s: f64) -> Option<f64> {
    let (state, cov) = curve.at(time_s)?;
    (state[2] != 0.0).then(|| cov[1][1].max(0.0).sqrt() / state[2].abs())
}
