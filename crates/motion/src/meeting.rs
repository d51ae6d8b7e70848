//! When two bodies on one path reach a common speed, and when they part again.

use crate::least_squares::fitted;
use crate::samples::{self, Sample};
use crate::{MotionFailure, Side, Smoothed, extreme};
use filmgauge_quantities::{Seconds, Speed, Uncertain};

/// After the first guess of the parting, the stretch that shows how the parted bodies go, s.
const PARTED_S: f64 = 0.120;
/// Least film after the first guess, s.
const LEAST_AFTER_S: f64 = 0.015;
/// Fewest marks on either side of the parting.
const FEWEST: usize = 8;
/// Step of the instants tried, s.
const STEP_S: f64 = 2.5e-4;

/// Both bodies at one speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CommonSpeed {
    /// When.
    pub time: Uncertain<Seconds>,
    /// The speed.
    pub speed: Uncertain<Speed>,
}

/// The first instant after `from_s` at which the striking body is no faster than the struck one; `None` where that is not
/// within both curves.
#[must_use]
pub fn common_speed(striking: &Smoothed, struck: &Smoothed, from_s: f64) -> Option<CommonSpeed> {
    let closing = |time_s: f64| Some(striking.at(time_s)?.0[1] - struck.at(time_s)?.0[1]);
    let times = striking.times_s.iter().copied().filter(|&time_s| time_s > from_s);
    let mut before: Option<f64> = None;
    for time_s in times {
        let Some(speed) = closing(time_s) else { continue };
        match before {
            Some(earlier) if speed <= 0.0 => return crossing(striking, struck, closing, (earlier, time_s)),
            _ => before = (speed > 0.0).then_some(time_s).or(before),
        }
    }
    None
}

fn crossing(
    striking: &Smoothed,
    struck: &Smoothed,
    closing: impl Fn(f64) -> Option<f64>,
    (mut low, mut high): (f64, f64),
) -> Option<CommonSpeed> {
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if closing(middle)? > 0.0 { low = middle } else { high = middle }
    }
    let ((own, own_cov), (other, other_cov)) = (striking.at(high)?, struck.at(high)?);
    let (own_var, other_var) = (own_cov[1][1].max(0.0), other_cov[1][1].max(0.0));
    let rate = own[2] - other[2];
    let time_u = (own_var + other_var).sqrt() / rate.abs();
    // The speed where two lines cross, by first-order propagation.
    let (by_own, by_other) = (-other[2] / rate, own[2] / rate);
    let speed_u = (by_own.powi(2) * own_var + by_other.powi(2) * other_var).sqrt();
    time_u.is_finite().then(|| CommonSpeed {
        time: Uncertain::new(Seconds::from_s(high), Seconds::from_s(time_u)),
        speed: Uncertain::new(Speed::from_m_s(0.5 * (own[1] + other[1])), Speed::from_m_s(speed_u)),
    })
}

/// The instant after `from_s`, the common speed, at which the bodies no longer press on each other.
///
/// From there on their distance is a parabola, by the drags alone. Before it the force that is given back fades like a
/// spring's, from its greatest at the common speed to nothing a quarter of a period later; a law of another shape moves
/// the instant. Every instant is tried and weighs by its likelihood.
///
/// # Errors
/// [`MotionFailure::NoOnset`] where they do not part within the film, and the faults of curves and marks.
pub fn parting(
    times_s: &[f64],
    striking: (&[Sample], &Smoothed),
    struck: (&[Sample], &Smoothed),
    from_s: f64,
) -> Result<Uncertain<Seconds>, MotionFailure> {
    samples::check(times_s, striking.0)?;
    samples::check(times_s, struck.0)?;
    let guess_s = fastest_parting(striking.1, struck.1, from_s).ok_or(MotionFailure::NoOnset)?;
    let distance: Vec<Sample> = striking
        .0
        .iter()
        .zip(struck.0)
        .map(|(own, other)| Some((other.as_ref()?.0 - own.as_ref()?.0, other.as_ref()?.1 + own.as_ref()?.1)))
        .collect();
    let marks: Vec<_> = samples::marked(times_s, &distance, from_s, guess_s + PARTED_S).collect();
    let before = marks.iter().filter(|mark| mark.0 < guess_s).count();
    let found = before.min(marks.len() - before);
    if found < FEWEST {
        return Err(MotionFailure::TooFewMarks { what: "parting", found, needed: FEWEST });
    }
    let (first_s, last_s) = (marks[FEWEST / 2].0, marks[marks.len() - 1 - FEWEST / 2].0);
    let instants =
        std::iter::successors(Some(first_s), |&at| Some(at + STEP_S)).take_while(|&at| at <= last_s);
    let fits: Vec<(f64, f64)> =
        instants.filter_map(|at_s| Some((at_s, parted_chi2(&marks, at_s, at_s - from_s)?))).collect();
    likeliest(&fits, marks.len())
}

/// Residual sum of squares when they part at `at_s`, a quarter of a period of `quarter_s` after the common speed.
fn parted_chi2(marks: &[(f64, f64, f64)], at_s: f64, quarter_s: f64) -> Option<f64> {
    let rows = marks.iter().map(|&(time_s, value, variance)| {
        let t = (time_s - at_s) / quarter_s;
        let phase = std::f64::consts::FRAC_PI_2 * (-t).max(0.0);
        ([1.0, t, t * t, phase - phase.sin()], value, variance)
    });
    Some(fitted::<4, 5>(rows)?.chi2)
}

/// Mean and spread of the instants by their likelihood.
#[expect(clippy::cast_precision_loss, reason = "counts of marks")]
fn likeliest(fits: &[(f64, f64)], n_marks: usize) -> Result<Uncertain<Seconds>, MotionFailure> {
    let best = fits.iter().map(|fit| fit.1).fold(f64::INFINITY, f64::min);
    let scale = (best / n_marks.saturating_sub(5).max(1) as f64).max(1.0);
    let weight = |chi2: f64| (-0.5 * (chi2 - best) / scale).exp();
    let total: f64 = fits.iter().map(|fit| weight(fit.1)).sum();
    let mean =
        |of: &dyn Fn(f64) -> f64| fits.iter().map(|fit| weight(fit.1) * of(fit.0)).sum::<f64>() / total;
    let time_s = mean(&|at| at);
    let variance = mean(&|at| (at - time_s).powi(2)) + STEP_S * STEP_S / 12.0;
    if !time_s.is_finite() {
        return Err(MotionFailure::NoOnset);
    }
    Ok(Uncertain::new(Seconds::from_s(time_s), Seconds::from_s(variance.sqrt())))
}

/// When the struck body is faster than the striking one by most; `None` where that lies at the end of the film, or does
/// not stand out from the noise.
fn fastest_parting(striking: &Smoothed, struck: &Smoothed, from_s: f64) -> Option<f64> {
    let times = striking.times_s.iter().copied().filter(|&time_s| time_s > from_s);
    let parting = times.filter_map(|time_s| {
        let ((own, own_cov), (other, other_cov)) = (striking.at(time_s)?, struck.at(time_s)?);
        Some((time_s, other[1] - own[1], (own_cov[1][1] + other_cov[1][1]).max(0.0).sqrt()))
    });
    let (time_s, speed, u) = parting.max_by(|a, b| a.1.total_cmp(&b.1))?;
    let is_last = striking.times_s.last().is_some_and(|&last| last - time_s < LEAST_AFTER_S);
    (speed > 3.0 * u && !is_last).then_some(time_s)
}

/// Greatest mean acceleration over `window_s` after `from_s`, m/s²: when the window begins, the value, and its standard
/// uncertainty, which takes the speeds at both ends as independent. `sign` is 1 for acceleration and -1 for deceleration.
///
/// # Errors
/// [`MotionFailure::TooFewMarks`] where the curve ends before a full window, [`MotionFailure::Setting`] for a window that
/// is not greater than 0.
pub fn greatest_mean_acceleration(
    curve: &Smoothed,
    from_s: f64,
    window_s: f64,
    sign: f64,
) -> Result<(f64, f64, f64), MotionFailure> {
    if !(window_s.is_finite() && window_s > 0.0) {
        let rule = "it must be greater than 0";
        return Err(MotionFailure::Setting { setting: "window_s", value: window_s, rule });
    }
    let mean = |time_s: f64| {
        let ((start, start_cov), (end, end_cov)) = (curve.at(time_s)?, curve.at(time_s + window_s)?);
        let u = (start_cov[1][1] + end_cov[1][1]).max(0.0).sqrt() / window_s;
        Some((time_s, sign * (end[1] - start[1]) / window_s, u))
    };
    let starts = std::iter::once(from_s).chain(curve.times_s.iter().copied().filter(|&time| time > from_s));
    let best = starts.filter_map(mean).max_by(|a, b| a.1.total_cmp(&b.1));
    best.ok_or(MotionFailure::TooFewMarks { what: "mean acceleration", found: 0, needed: 1 })
}

/// Greatest loss of speed per time after `from_s` without averaging: when, the value, m/s², and its standard uncertainty.
///
/// # Errors
/// As [`extreme`].
pub fn greatest_deceleration(curve: &Smoothed, from_s: f64) -> Result<(f64, f64, f64), MotionFailure> {
    let peak = extreme(curve, 2, Side::Least, (from_s, f64::INFINITY))?;
    Ok((peak.time.as_s(), -peak.value, peak.u))
}

/// The same for a gain of speed.
///
/// # Errors
/// As [`extreme`].
pub fn greatest_acceleration(curve: &Smoothed, from_s: f64) -> Result<(f64, f64, f64), MotionFailure> {
    let peak = extreme(curve, 2, Side::Greatest, (from_s, f64::INFINITY))?;
    Ok((peak.time.as_s(), peak.value, peak.u))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{SmoothOptions, smooth};
    use rand_distr::{Distribution, Normal};
    use rand_xoshiro::Xoshiro256PlusPlus;
    use rand_xoshiro::rand_core::SeedableRng;

    const U_M: f64 = 2e-4;
    const OMEGA: f64 = 50.0;
    /// Loading from 0 to 100 ms, then a spring that gives back over a quarter of its period.
    const COMMON_S: f64 = 0.100;

    /// Relative motion of a pair with a reduced spring, and the struck body's own even travel: a closed form.
    fn places(t: f64) -> [f64; 2] {
        let (closing, push) = (10.0, 2.0);
        let load = closing / COMMON_S;
        let part_s = COMMON_S + 0.5 * std::f64::consts::PI / OMEGA;
        let stroke = if t <= 0.0 {
            closing * t
        } else if t <= COMMON_S {
            closing * t - 0.5 * load * t * t
        } else {
            let top = 0.5 * closing * COMMON_S;
            let s = t.min(part_s) - COMMON_S;
            let back = load / OMEGA.powi(2) * (1.0 - (OMEGA * s).cos());
            let rest = (t - part_s).max(0.0);
            top - back - load / OMEGA * rest + 0.5 * 2.0 * rest * rest
        };
        [push * t.max(0.0) + stroke, push * t.max(0.0)]
    }

    fn curves(seed: u64) -> (Vec<f64>, [Vec<Sample>; 2], [Smoothed; 2]) {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let noise = Normal::new(0.0, U_M).unwrap();
        let times_s: Vec<f64> = (0..400).map(|i| -0.0603 + f64::from(i) * 1e-3).collect();
        let mut curve = |body: usize| -> Vec<Sample> {
            times_s.iter().map(|&t| Some((places(t)[body] + noise.sample(&mut random), U_M * U_M))).collect()
        };
        let samples = [curve(0), curve(1)];
        let options = SmoothOptions { onsets_s: vec![0.0], ..SmoothOptions::default() };
        let smoothed = [0, 1].map(|body: usize| smooth(&times_s, &samples[body], &options).unwrap());
        (times_s, samples, smoothed)
    }

    #[test]
    fn common_speed_and_parting_of_a_pair() {
        let part_s = COMMON_S + 0.5 * std::f64::consts::PI / OMEGA;
        let (mut common_inside, mut part_inside, mut n) = (0, 0, 0);
        for seed in 0..40 {
            let (times_s, samples, [car, truck]) = curves(seed);
            let common = common_speed(&car, &truck, 0.0).unwrap();
            let off = common.time.value.as_s() - COMMON_S;
            assert!(off.abs() < 0.002, "{off}");
            common_inside += u32::from(off.abs() <= 1.96 * common.time.u.as_s());
            assert!((common.speed.value.as_m_s() - 2.0).abs() < 0.2);
            let from_s = common.time.value.as_s();
            let part = parting(&times_s, (&samples[0], &car), (&samples[1], &truck), from_s).unwrap();
            let off = part.value.as_s() - part_s;
            assert!(off.abs() < 0.005, "{off}");
            part_inside += u32::from(off.abs() <= 1.96 * part.u.as_s());
            n += 1;
        }
        println!("inside 95 %: common speed {common_inside}, parting {part_inside} of {n}");
        assert!(common_inside >= 32 && part_inside >= 34, "{common_inside} {part_inside}");
    }

    #[test]
    fn bodies_that_stay_together_do_not_part() {
        let (times_s, samples, [car, truck]) = curves(1);
        let early: Vec<f64> = times_s.iter().copied().filter(|&t| t < 0.1).collect();
        let n = early.len();
        let [own, other] = [0, 1].map(|body: usize| samples[body][..n].to_vec());
        let short = |samples: &[Sample]| smooth(&early, samples, &SmoothOptions::default()).unwrap();
        let found = parting(&early, (&own, &short(&own)), (&other, &short(&other)), 0.0);
        assert_eq!(found, Err(MotionFailure::NoOnset));
        assert!(common_speed(&car, &truck, 0.25).is_none());
    }

    #[test]
    fn means_of_a_constant_deceleration() {
        // 27.7778 m/s at 15 g: 0.188836 s and 2.622731 m to rest (computed from v²/2a).
        let a = 15.0 * 9.806_65;
        let times_s: Vec<f64> = (0..240).map(|i| -0.05 + f64::from(i) * 1e-3).collect();
        let place = |t: f64| 27.7778 * t - if t > 0.0 { 0.5 * a * t * t } else { 0.0 };
        let samples: Vec<Sample> = times_s.iter().map(|&t| Some((place(t), 1e-10))).collect();
        let options = SmoothOptions { onsets_s: vec![0.0], onset_u_s: 0.0, ..SmoothOptions::default() };
        let curve = smooth(&times_s, &samples, &options).unwrap();
        for window_s in [0.01, 0.05] {
            let (_, value, u) = greatest_mean_acceleration(&curve, 0.0, window_s, -1.0).unwrap();
            assert!((value - a).abs() < 0.5 && u < 1.0, "{value} {u}");
        }
        let stop_s = 27.7778 / a;
        assert!((stop_s - 0.188_836).abs() < 1e-6 && (place(stop_s) - 2.622_731).abs() < 1e-5);
        assert!(greatest_mean_acceleration(&curve, 0.0, 0.0, 1.0).is_err());
        assert!(greatest_mean_acceleration(&curve, 0.185, 0.05, -1.0).is_err());
        assert!((greatest_deceleration(&curve, 0.0).unwrap().1 - a).abs() < 5.0);
    }
}
