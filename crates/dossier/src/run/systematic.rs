//! What the doubtful inputs add, frame by frame, to the variance of every curve that is shown: sums only, so that the
//! moved evaluations themselves need not be kept.

use super::evaluate::{BodyState, CameraMotion};
use crate::document::Role;
use filmgauge_motion::Smoothed;
use std::collections::BTreeMap;

/// A curve that is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Shown {
    /// Along the path: place, speed, acceleration.
    X(usize),
    /// Across the path: place, speed, acceleration.
    Z(usize),
    /// Angle, rate.
    Angle(usize),
    /// Height over that at contact.
    Rise,
    /// Crush.
    Depth,
}

/// Everything that is shown of a moving body.
const OF_BODY: [Shown; 9] = [
    Shown::X(0),
    Shown::X(1),
    Shown::X(2),
    Shown::Z(0),
    Shown::Z(1),
    Shown::Z(2),
    Shown::Angle(0),
    Shown::Angle(1),
    Shown::Rise,
];

type Key = (String, Shown);

/// Variance by all doubtful inputs, for each curve and frame.
#[derive(Debug, Clone, Default)]
pub(crate) struct Systematic {
    variances: BTreeMap<Key, Vec<f64>>,
}

impl Systematic {
    /// Squared changes of every curve by one moved input.
    pub(crate) fn of(stated: &CameraMotion, moved: &CameraMotion) -> Self {
        let mut variances = BTreeMap::new();
        for body in stated.bodies.iter().filter(|body| body.role != Role::Ground) {
            let Some(other) = moved.bodies.iter().find(|other| other.id == body.id) else { continue };
            for shown in OF_BODY {
                let squares = match shown {
                    Shown::Rise => rises(body, other, stated, moved),
                    Shown::X(order) => changes(&body.motion.x, &other.motion.x, order, 0.0),
                    Shown::Z(order) => changes(&body.motion.z, &other.motion.z, order, 0.0),
                    Shown::Angle(order) => match (&body.motion.angle, &other.motion.angle) {
                        (Some(own), Some(moved)) => changes(own, moved, order, 0.0),
                        _ => continue,
                    },
                    Shown::Depth => continue,
                };
                variances.insert((body.id.to_string(), shown), squares);
            }
        }
        for line in &stated.crush {
            let Some(other) = moved.crush.iter().find(|other| other.id == line.id) else { continue };
            variances.insert((line.id.clone(), Shown::Depth), changes(&line.depth, &other.depth, 0, 0.0));
        }
        Self { variances }
    }

    /// Adds another input's variances.
    pub(crate) fn add(&mut self, other: Self) {
        for (key, squares) in other.variances {
            let own = self.variances.entry(key).or_insert_with(|| vec![0.0; squares.len()]);
            own.iter_mut().zip(squares).for_each(|(own, square)| *own += square);
        }
    }

    /// The variances of a curve, frame by frame; empty where no input is doubtful.
    pub(crate) fn variances(&self, subject: &str, shown: Shown) -> &[f64] {
        self.variances.get(&(subject.to_owned(), shown)).map_or(&[], Vec::as_slice)
    }
}

/// Height counts from that at each evaluation's own contact.
fn rises(
    body: &BodyState,
    other: &BodyState,
    stated_motion: &CameraMotion,
    moved_motion: &CameraMotion,
) -> Vec<f64> {
    let rest = |motion: &CameraMotion, curve: &Smoothed| {
        curve.at(motion.contact_s()).map_or(0.0, |(state, _)| state[0])
    };
    let apart = rest(moved_motion, &other.motion.z) - rest(stated_motion, &body.motion.z);
    changes(&body.motion.z, &other.motion.z, 0, apart)
}

/// Squared changes of a derivative at the frames of `stated`, less a change common to all.
fn changes(stated: &Smoothed, moved: &Smoothed, order: usize, common: f64) -> Vec<f64> {
    let change = |index: usize| {
        let other = at_same_time(moved, index, order, stated.times_s[index])?;
        Some((other - common - stated.states[index][order]).powi(2))
    };
    (0..stated.times_s.len()).map(|index| change(index).unwrap_or(0.0)).collect()
}

/// A derivative of a curve of another evaluation at `time_s`, from its frame `index`: where time itself was moved, the
/// frame belongs to another instant, and the next derivative carries the value over (first-order propagation).
fn at_same_time(curve: &Smoothed, index: usize, order: usize, time_s: f64) -> Option<f64> {
    let state = curve.states.get(index)?;
    let shift_s = time_s - curve.times_s.get(index)?;
    let slope = state.get(order + 1).copied().unwrap_or(0.0);
    Some(state[order] + slope * shift_s)
}
