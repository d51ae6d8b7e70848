//! Where a camera shows a target at an instant between its frames.

use crate::run::shutter::ImageMark;
use filmgauge_quantities::{PixelCov, PixelPoint};

/// An instant this close to a frame is the frame's, s.
const SAME_S: f64 = 1e-9;
/// Two frames further apart than so many usual ones have a gap between them.
const GAP_FRAMES: f64 = 1.6;

/// The mark at an instant: a cubic through the two frames before and the two after, a straight line where one of the outer
/// ones is missing. `None` where an inner one is. Its covariance is that of the marks, weighed.
pub(super) fn mark_at(marks: &[Option<ImageMark>], times_s: &[f64], at_s: f64) -> Option<ImageMark> {
    let after = times_s.partition_point(|&time_s| time_s < at_s - SAME_S);
    if (times_s.get(after)? - at_s).abs() <= SAME_S {
        return marks[after];
    }
    let before = after.checked_sub(1)?;
    let usual_s = (times_s.last()? - times_s.first()?) / (times_s.len() - 1) as f64;
    if times_s[after] - times_s[before] > GAP_FRAMES * usual_s {
        return None;
    }
    let four = before.checked_sub(1).map(|first| first..after + 2).filter(|four| four.end <= marks.len());
    let four = four.filter(|four| marks[four.clone()].iter().all(Option::is_some));
    weighed(marks, times_s, four.unwrap_or(before..after + 1), at_s)
}

/// The polynomial through these frames (Lagrange).
fn weighed(
    marks: &[Option<ImageMark>],
    times_s: &[f64],
    frames: std::ops::Range<usize>,
    at_s: f64,
) -> Option<ImageMark> {
    let (mut point, mut cov) = (PixelPoint::default(), PixelCov::default());
    for frame in frames.clone() {
        let others = frames.clone().filter(|other| *other != frame);
        let weight: f64 =
            others.map(|other| (at_s - times_s[other]) / (times_s[frame] - times_s[other])).product();
        let (seen, seen_cov) = marks[frame]?;
        point = point.moved(weight * seen.x, weight * seen.y);
        cov.xx += weight * weight * seen_cov.xx;
        cov.xy += weight * weight * seen_cov.xy;
        cov.yy += weight * weight * seen_cov.yy;
    }
    Some((point, cov))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cubic_is_met_exactly_and_a_gap_is_one() {
        let times_s: Vec<f64> = (0..8).map(|frame| f64::from(frame) * 1e-3).collect();
        let path = |t: f64| PixelPoint::new(100.0 + 1e4 * t + 2e6 * t * t - 3e8 * t * t * t, 50.0 - 5e3 * t);
        let mut marks: Vec<Option<ImageMark>> =
            times_s.iter().map(|&t| Some((path(t), PixelCov::round(0.1)))).collect();
        let (found, cov) = mark_at(&marks, &times_s, 0.003_4).unwrap();
        assert!(found.distance(path(0.003_4)) < 1e-9 && cov.xx < 0.01 && cov.xx > 0.005, "{found:?} {cov:?}");
        assert_eq!(mark_at(&marks, &times_s, 0.003), marks[3]);
        marks[4] = None;
        assert!(mark_at(&marks, &times_s, 0.003_4).is_none());
        assert!(mark_at(&marks, &times_s, -0.001).is_none() && mark_at(&marks, &times_s, 0.009).is_none());
    }
}
