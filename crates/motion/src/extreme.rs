//! Greatest and least value of a smooth curve or one of its derivatives in an interval, with time and uncertainty.

use crate::{MotionFailure, Smoothed};
use filmgauge_quantities::Seconds;

/// Steps of the refinement between frames.
const REFINEMENTS: usize = 40;
/// Inner point of the golden section.
const GOLDEN: f64 = 0.618_033_988_749_895;

/// Which end of the range is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The greatest value.
    Greatest,
    /// The least value.
    Least,
}

/// An extreme of a curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extreme {
    /// When. No uncertainty is known at an end of the interval or for a second derivative.
    pub time: Seconds,
    /// Standard uncertainty of the time: how far to either side the slope hardly differs from zero, root mean square.
    pub time_u: Option<Seconds>,
    /// How much, in the curve's unit, per second or per second squared.
    pub value: f64,
    /// Standard uncertainty of the value.
    pub u: f64,
    /// Whether it lies at an end of the interval: the true extreme may lie outside.
    pub at_end: bool,
}

/// The extreme of the curve's derivative of the given order (0, 1 or 2) from `from_s` to `to_s`, cut to the curve.
///
/// # Errors
/// [`MotionFailure::TooFewMarks`] where the interval misses the curve, [`MotionFailure::Setting`] for another order.
pub fn extreme(
    curve: &Smoothed,
    order: usize,
    side: Side,
    (from_s, to_s): (f64, f64),
) -> Result<Extreme, MotionFailure> {
    if order > 2 {
        #[expect(clippy::cast_precision_loss, reason = "a small number, for the message")]
        let value = order as f64;
        return Err(MotionFailure::Setting { setting: "order", value, rule: "it must be 0, 1 or 2" });
    }
    let missed = MotionFailure::TooFewMarks { what: "extreme of a curve", found: 0, needed: 1 };
    let (Some(&first), Some(&last)) = (curve.times_s.first(), curve.times_s.last()) else {
        return Err(missed);
    };
    let (from_s, to_s) = (from_s.max(first), to_s.min(last));
    if from_s.partial_cmp(&to_s).is_none_or(std::cmp::Ordering::is_gt) {
        return Err(missed);
    }
    let sign = if side == Side::Greatest { 1.0 } else { -1.0 };
    let height = |time_s: f64| curve.at(time_s).map_or(f64::NEG_INFINITY, |(state, _)| sign * state[order]);
    let inner = curve.times_s.iter().copied().filter(|time| (from_s..=to_s).contains(time));
    let places: Vec<f64> = std::iter::once(from_s).chain(inner).chain(std::iter::once(to_s)).collect();
    let mut best = 0;
    for i in 1..places.len() {
        if height(places[i]) > height(places[best]) {
            best = i;
        }
    }
    let around = (places[best.saturating_sub(1)], places[(best + 1).min(places.len() - 1)]);
    let time_s = summit(around, places[best], height);
    let (state, cov) = curve.at(time_s).ok_or(missed)?;
    let at_end = time_s - from_s < 1e-9 || to_s - time_s < 1e-9;
    let bends = order < 2 && state[order + 2] != 0.0;
    let time_u = (!at_end && bends).then(|| {
        let [before, after] = level(curve, order, time_s, (from_s, to_s));
        Seconds::from_s((0.5 * (before * before + after * after)).sqrt())
    });
    Ok(Extreme {
        time: Seconds::from_s(time_s),
        time_u,
        value: state[order],
        u: cov[order][order].sqrt(),
        at_end,
    })
}

/// How long before and after a summit the slope is within its standard uncertainty of zero, s; at most to the interval's
/// ends. A top may be steep on one side only, so that one bend would not do for both.
fn level(curve: &Smoothed, order: usize, time_s: f64, (from_s, to_s): (f64, f64)) -> [f64; 2] {
    let after = curve.times_s.partition_point(|&frame_s| frame_s <= time_s);
    let before = curve.times_s.partition_point(|&frame_s| frame_s < time_s);
    let until = |frames: &mut dyn Iterator<Item = usize>, end_s: f64| {
        let (mut last_s, mut last) = (time_s, 0.0);
        for frame in frames {
            let (now_s, slope) = (curve.times_s[frame], curve.states[frame][order + 1].abs());
            let now = slope / curve.covs[frame][order + 1][order + 1].sqrt();
            if (now_s - time_s).abs() > (end_s - time_s).abs() {
                break;
            }
            if now >= 1.0 {
                let share = (1.0 - last) / (now - last);
                return (last_s + share * (now_s - last_s) - time_s).abs();
            }
            (last_s, last) = (now_s, now);
        }
        (end_s - time_s).abs()
    };
    [until(&mut (0..before).rev(), from_s), until(&mut (after..curve.times_s.len()), to_s)]
}

/// Golden section towards the highest point; `start` is the best frame.
fn summit((mut low, mut high): (f64, f64), start: f64, height: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..REFINEMENTS {
        let (left, right) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        if height(left) >= height(right) { high = right } else { low = left }
    }
    let found = 0.5 * (low + high);
    if height(found) > height(start) { found } else { start }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples::Sample;
    use crate::{SmoothOptions, smooth};

    #[test]
    fn summit_of_a_sine() {
        let times: Vec<f64> = (0..200).map(|i| f64::from(i) * 1e-3).collect();
        let samples: Vec<Sample> = times.iter().map(|&t| Some(((20.0 * t).sin(), 1e-10))).collect();
        let curve = smooth(&times, &samples, &SmoothOptions::default()).unwrap();
        let top = extreme(&curve, 0, Side::Greatest, (0.0, 0.19)).unwrap();
        assert!(
            (top.time.as_s() - std::f64::consts::PI / 40.0).abs() < 1e-4 && (top.value - 1.0).abs() < 1e-4
        );
        assert!(!top.at_end && top.time_u.is_some());
        let slowest = extreme(&curve, 1, Side::Least, (0.02, 0.19)).unwrap();
        assert!((slowest.time.as_s() - std::f64::consts::PI / 20.0).abs() < 1e-3);
        assert!((slowest.value + 20.0).abs() < 0.01);
        let cut = extreme(&curve, 0, Side::Greatest, (0.0, 0.05)).unwrap();
        assert!(cut.at_end && (cut.time.as_s() - 0.05).abs() < 1e-9);
        assert!(extreme(&curve, 0, Side::Least, (0.5, 0.6)).is_err());
        assert!(extreme(&curve, 3, Side::Least, (0.0, 0.1)).is_err());
    }
}
