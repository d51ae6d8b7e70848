//! Speed of the run-up: a weighted straight line over a stated interval, and whether a straight line is right.

use crate::MotionFailure;
use crate::least_squares::{Fitted, fitted};
use crate::samples::{self, Sample};
use filmgauge_quantities::{Acceleration, Length, Quantity, Seconds, Speed, Uncertain};

/// Fewest marks for a line with something left to judge it by.
const FEWEST_MARKS: usize = 5;

/// Where the noise of the marks is taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum NoiseSource {
    /// The stated variances, widened where the residuals are larger than they allow.
    #[default]
    Stated,
    /// The residuals; stated variances only weigh the marks against each other (JCGM 100, H.3).
    Residuals,
}

/// A straight line through the marks of an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunUp {
    /// Slope of the line.
    pub speed: Uncertain<Speed>,
    /// Place at `middle`.
    pub place: Uncertain<Length>,
    /// Correlation of place and speed.
    pub correlation: f64,
    /// Time at which `place` holds: the origin given to [`run_up_speed_about`], else the marks' mean time.
    pub middle: Seconds,
    /// Root mean square residual, m.
    pub residual_rms_m: f64,
    /// Residual sum of squares over the stated variances.
    pub chi2: f64,
    /// Degrees of freedom of `chi2`.
    pub dof: usize,
    /// Acceleration from a parabola over the same marks; `None` where they do not determine one.
    pub acceleration: Option<Uncertain<Acceleration>>,
    /// Marks used.
    pub n_marks: usize,
}

impl RunUp {
    /// Place on the line at an instant.
    #[must_use]
    pub fn place_at(&self, time: Seconds) -> Uncertain<Length> {
        let ahead_s = (time - self.middle).as_s();
        let (u_place, u_travel) = (self.place.u.as_m(), self.speed.u.as_m_s() * ahead_s);
        let variance = u_place * u_place + u_travel * u_travel + 2.0 * self.correlation * u_place * u_travel;
        let place_m = self.place.value.as_m() + self.speed.value.as_m_s() * ahead_s;
        Uncertain::new(Length::from_m(place_m), Length::from_m(variance.max(0.0).sqrt()))
    }

    /// Acceleration over its standard uncertainty: above 2 the run-up was hardly at constant speed.
    #[must_use]
    pub fn acceleration_significance(&self) -> Option<f64> {
        self.acceleration
            .and_then(|a| (a.u.as_m_s2() > 0.0).then(|| (a.value.as_m_s2() / a.u.as_m_s2()).abs()))
    }
}

/// The line through the marks from `from_s` to `to_s`, both included, about their mean time.
///
/// # Errors
/// [`MotionFailure`] for faulty marks or fewer than five of them in the interval.
pub fn run_up_speed(
    times_s: &[f64],
    samples: &[Sample],
    from_s: f64,
    to_s: f64,
    noise: NoiseSource,
) -> Result<RunUp, MotionFailure> {
    samples::check(times_s, samples)?;
    let (mut sum, mut n) = (0.0, 0.0);
    for (time, ..) in samples::marked(times_s, samples, from_s, to_s) {
        sum += time;
        n += 1.0;
    }
    let middle_s = if n > 0.0 { sum / n } else { from_s };
    run_up_speed_about(times_s, samples, (from_s, to_s), middle_s, noise)
}

/// As [`run_up_speed`], with the place stated at `origin_s`.
///
/// # Errors
/// As [`run_up_speed`].
pub fn run_up_speed_about(
    times_s: &[f64],
    samples: &[Sample],
    (from_s, to_s): (f64, f64),
    origin_s: f64,
    noise: NoiseSource,
) -> Result<RunUp, MotionFailure> {
    samples::check(times_s, samples)?;
    let marks: Vec<(f64, f64, f64)> = samples::marked(times_s, samples, from_s, to_s).collect();
    if marks.len() < FEWEST_MARKS {
        let found = marks.len();
        return Err(MotionFailure::TooFewMarks { what: "run-up speed", found, needed: FEWEST_MARKS });
    }
    let rows = marks.iter().map(|&(time, value, variance)| ([1.0, time - origin_s], value, variance));
    let why = "the marks lie at one instant; widen the interval";
    let line = fitted::<2, 3>(rows).ok_or(MotionFailure::Degenerate { what: "run-up speed", why })?;
    let squares = marks
        .iter()
        .map(|&(time, value, _)| (value - line.value[0] - line.value[1] * (time - origin_s)).powi(2));
    #[expect(clippy::cast_precision_loss, reason = "counts of marks")]
    let residual_rms_m = (squares.sum::<f64>() / marks.len() as f64).sqrt();
    let widening = widening(&line, noise);
    Ok(RunUp {
        speed: uncertain(line.value[1], line.cov[1][1], widening),
        place: uncertain(line.value[0], line.cov[0][0], widening),
        correlation: line.cov[0][1] / (line.cov[0][0] * line.cov[1][1]).sqrt(),
        middle: Seconds::from_s(origin_s),
        residual_rms_m,
        chi2: line.chi2,
        dof: line.dof(),
        acceleration: acceleration(&marks, noise),
        n_marks: marks.len(),
    })
}

fn acceleration(marks: &[(f64, f64, f64)], noise: NoiseSource) -> Option<Uncertain<Acceleration>> {
    let (first, last) = (marks.first()?.0, marks.last()?.0);
    let (middle, half) = (0.5 * (first + last), 0.5 * (last - first));
    let rows = marks.iter().map(|&(time, value, variance)| {
        let t = (time - middle) / half;
        ([1.0, t, 0.5 * t * t], value, variance)
    });
    let parabola = fitted::<3, 4>(rows)?;
    let per_s2 = half.powi(-2);
    Some(uncertain(
        parabola.value[2] * per_s2,
        parabola.cov[2][2] * per_s2 * per_s2,
        widening(&parabola, noise),
    ))
}

/// Factor on the standard uncertainties.
#[expect(clippy::cast_precision_loss, reason = "counts of marks")]
fn widening<const P: usize>(fit: &Fitted<P>, noise: NoiseSource) -> f64 {
    let scale = (fit.chi2 / fit.dof().max(1) as f64).sqrt();
    match noise {
        NoiseSource::Stated => {
            // Residuals that chance explains must not widen the interval: 2.33 standard deviations of chi-square.
            let by_chance = (1.0 + 2.33 * (2.0 / fit.dof().max(1) as f64).sqrt()).sqrt();
            if scale > by_chance { scale } else { 1.0 }
        }
        NoiseSource::Residuals => scale,
    }
}

fn uncertain<Q: Quantity>(value: f64, variance: f64, widening: f64) -> Uncertain<Q> {
    Uncertain::new(Q::from_si(value), Q::from_si(variance.sqrt() * widening))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JCGM 100, H.3: correction b of a thermometer against temperature t.
    const T: [f64; 11] =
        [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511];
    const B: [f64; 11] =
        [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160];

    #[test]
    fn straight_line_of_the_gum() {
        let samples: Vec<Sample> = B.iter().map(|&b| Some((b, 1.0))).collect();
        let line = run_up_speed_about(&T, &samples, (0.0, 30.0), 20.0, NoiseSource::Residuals).unwrap();
        // Printed in JCGM 100, H.3.2: y1 -0.1712 (0.0029), y2 0.00218 (0.00067), r -0.930, s 0.0035.
        assert!((line.place.value.as_m() + 0.171_203_790).abs() < 1e-9);
        assert!((line.place.u.as_m() - 0.002_877_598).abs() < 1e-9);
        assert!((line.speed.value.as_m_s() - 0.002_182_698).abs() < 1e-9);
        assert!((line.speed.u.as_m_s() - 0.000_667_939).abs() < 1e-9);
        assert!((line.correlation + 0.930_430).abs() < 1e-6);
        assert!(((line.chi2 / 9.0).sqrt() - 0.003_497_564).abs() < 1e-9);
        let at_30 = line.place_at(Seconds::from_s(30.0));
        assert!((at_30.value.as_m() + 0.149_376_813).abs() < 1e-9);
        assert!((at_30.u.as_m() - 0.004_138_596).abs() < 1e-9);
    }

    #[test]
    fn slope_noise_follows_the_closed_form() {
        // Computed from sigma_v = sigma / (dt √S), S = m (m + 1) (2m + 1) / 3: 2 mm at 1000 frames/s.
        for (n, u_m_s) in [(5_u32, 0.6325), (9, 0.2582), (21, 0.0721)] {
            let times: Vec<f64> = (0..n).map(|i| f64::from(i) * 1e-3).collect();
            let samples: Vec<Sample> = times.iter().map(|&t| Some((14.4 * t, 4e-6))).collect();
            let line = run_up_speed(&times, &samples, 0.0, 1.0, NoiseSource::Stated).unwrap();
            assert!((line.speed.u.as_m_s() - u_m_s).abs() < 5e-5);
            assert!((line.speed.value.as_m_s() - 14.4).abs() < 1e-9);
        }
    }

    #[test]
    fn free_fall_shows_as_acceleration() {
        // g0 exactly, from s = g0 t² / 2.
        let times: Vec<f64> = (0..100).map(|i| f64::from(i) * 1e-3).collect();
        let samples: Vec<Sample> = times.iter().map(|&t| Some((0.5 * 9.806_65 * t * t, 1e-8))).collect();
        let line = run_up_speed(&times, &samples, 0.0, 1.0, NoiseSource::Stated).unwrap();
        assert!((line.acceleration.unwrap().value.as_m_s2() - 9.806_65).abs() < 1e-9);
        assert!(line.acceleration_significance().unwrap() > 2.0);
        assert!(line.chi2 > line.dof as f64);
    }

    #[test]
    fn an_empty_interval_is_a_failure() {
        let samples: Vec<Sample> = B.iter().map(|&b| Some((b, 1.0))).collect();
        let none = run_up_speed(&T, &samples, 0.0, 1.0, NoiseSource::Stated).unwrap_err();
        assert!(matches!(none, MotionFailure::TooFewMarks { found: 0, .. }));
        assert!(run_up_speed(&T, &samples, f64::NAN, 1.0, NoiseSource::Stated).is_err());
    }
}
