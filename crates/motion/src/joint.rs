//! Two bodies that move on as one: whether they do, and what their travels then say of their scales.
//!
//! While nothing gives between them both travel alike, so their measured travels differ by the difference of their scales
//! alone: d = s x. Bodies that part drift apart with time instead: d = r t. The two are told apart because a dragged pair
//! slows down, so that travel does not grow with time.

use crate::least_squares::fitted;
use crate::samples::{self, Sample};
use crate::{Figure, MotionFailure};

/// Fewest frames of the stretch.
const FEWEST_FRAMES: usize = 30;
/// Fall of the residual sum of squares that tells drift from scale: 99.9 % of chance for one parameter.
const TELLING: f64 = 10.8;
/// Fall below which neither is there: five standard deviations of one parameter.
const QUIET: f64 = 25.0;

/// A fit that is worse than chance by more of its standard deviations does not describe the travels.
const MOST_SIGMAS: f64 = 6.0;
/// No scale is wrong by more.
const MOST_EXCESS: f64 = 0.15;

/// What a stretch after the impact says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Joint {
    /// Relative excess of the first body's travel over the second's, where they move as one; `None` where they part, or
    /// where drift and scale cannot be told apart.
    pub excess: Option<Figure>,
    /// Travel of the second body over the stretch, m.
    pub travel_m: f64,
    /// Frames used.
    pub n_frames: usize,
}

/// Looks at the travels of two bodies from `from_s` to `to_s`.
///
/// # Errors
/// [`MotionFailure`] for faulty curves or too few common frames.
pub fn joint(
    times_s: &[f64],
    first: &[Sample],
    second: &[Sample],
    (from_s, to_s): (f64, f64),
) -> Result<Joint, MotionFailure> {
    samples::check(times_s, first)?;
    samples::check(times_s, second)?;
    let rows: Vec<[f64; 4]> = times_s
        .iter()
        .zip(first.iter().zip(second))
        .filter(|(time_s, _)| (from_s..=to_s).contains(*time_s))
        .filter_map(|(&time_s, (one, other))| {
            let ((x1, u1), (x2, u2)) = ((*one)?, (*other)?);
            Some([time_s - from_s, x1 - x2, x2, u1 + u2])
        })
        .collect();
    let n_frames = rows.len();
    if n_frames < FEWEST_FRAMES {
        let found = n_frames;
        return Err(MotionFailure::TooFewMarks { what: "joint motion", found, needed: FEWEST_FRAMES });
    }
    let travel_m = (rows[n_frames - 1][2] - rows[0][2]).abs();
    let start_m = rows[0][2];
    let none = fitted::<1, 2>(rows.iter().map(|row| ([1.0], row[1], row[3])));
    let scale = fitted::<2, 3>(rows.iter().map(|row| ([1.0, row[2] - start_m], row[1], row[3])));
    let drift = fitted::<2, 3>(rows.iter().map(|row| ([1.0, row[0]], row[1], row[3])));
    let excess = match (none, scale, drift) {
        (Some(none), Some(scale), Some(drift)) => {
            let quiet = none.chi2 - scale.chi2.min(drift.chi2) < QUIET;
            #[expect(clippy::cast_precision_loss, reason = "a count of frames")]
            let dof = (n_frames - 2) as f64;
            let fits = scale.chi2 < dof * (1.0 + MOST_SIGMAS * (2.0 / dof).sqrt());
            let sane = scale.value[1].abs() < MOST_EXCESS;
            let as_one = fits && sane && (quiet || drift.chi2 - scale.chi2 > TELLING);
            as_one.then(|| Figure { value: scale.value[1], u: scale.cov[1][1].sqrt() })
        }
        _ => None,
    };
    Ok(Joint { excess, travel_m, n_frames })
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_distr::{Distribution, Normal};
    use rand_xoshiro::Xoshiro256PlusPlus;
    use rand_xoshiro::rand_core::SeedableRng;

    fn curves(scale: f64, drift_m_s: f64) -> (Vec<f64>, Vec<Sample>, Vec<Sample>) {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(3);
        let noise = Normal::new(0.0, 3e-4).unwrap();
        let times_s: Vec<f64> = (0..500).map(|i| f64::from(i) * 1e-3).collect();
        let travel = |t: f64| 4.0 * t - 1.6 * t * t;
        let mut mark = |x: f64| Some((x + noise.sample(&mut random), 9e-8));
        let first = times_s.iter().map(|&t| mark(scale * travel(t) + drift_m_s * t)).collect();
        let second = times_s.iter().map(|&t| mark(travel(t))).collect();
        (times_s, first, second)
    }

    #[test]
    fn scale_and_drift_are_told_apart() {
        let excess = |scale: f64, drift: f64| {
            let (times_s, first, second) = curves(scale, drift);
            joint(&times_s, &first, &second, (0.0, 1.0)).unwrap().excess
        };
        let found = excess(1.03, 0.0).unwrap();
        assert!((found.value - 0.03).abs() < 4.0 * found.u && found.u < 1e-3, "{found:?}");
        let sound = excess(1.0, 0.0).unwrap();
        assert!(sound.value.abs() < 4.0 * sound.u);
        assert!(excess(1.0, -0.3).is_none(), "bodies that part say nothing");
        assert!(excess(-0.5, 0.0).is_none(), "nor do bodies that go opposite ways");
        let (times_s, first, second) = curves(1.0, 0.0);
        assert!(joint(&times_s, &first, &second, (0.0, 0.02)).is_err());
    }
}
