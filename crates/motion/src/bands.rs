//! A band that holds a whole curve at once, beside the pointwise one: pointwise bands widened by one factor.
//!
//! Curves are drawn from what is known of the true one, given the marks; the factor is the quantile of each drawn curve's
//! greatest distance from the mean, in pointwise standard uncertainties (sup-t band: Montiel Olea and Plagborg-Møller 2019,
//! J. Appl. Econom. 34:1; draws by backward sampling, after Frühwirth-Schnatter 1994, J. Time Ser. Anal. 15:183).

use crate::{MotionFailure, Smoothed};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

/// Settings of [`simultaneous_band`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SimultaneousOptions {
    /// Derivative: 0 for the value, 1 for the rate, 2 for the second derivative.
    pub order: usize,
    /// Interval over which the band is to hold, s; cut to the curve.
    pub interval_s: (f64, f64),
    /// Share of true curves that lie within it throughout, 0.5 to 0.999.
    pub coverage: f64,
    /// Curves drawn, 200 to 100 000; the factor of 1000 is good to about 2 %.
    pub draws: usize,
    /// Start of the random numbers: the same gives the same factor.
    pub seed: u64,
}

impl Default for SimultaneousOptions {
    fn default() -> Self {
        Self {
            order: 0,
            interval_s: (f64::NEG_INFINITY, f64::INFINITY),
            coverage: 0.95,
            draws: 1000,
            seed: 1,
        }
    }
}

impl SimultaneousOptions {
    /// Checks every setting's range.
    ///
    /// # Errors
    /// [`MotionFailure::Setting`] names the first setting out of range.
    #[expect(clippy::cast_precision_loss, reason = "counts, for the message")]
    pub fn check(&self) -> Result<(), MotionFailure> {
        let fault = |setting, value, rule| Err(MotionFailure::Setting { setting, value, rule });
        if self.order > 2 {
            return fault("order", self.order as f64, "it must be 0, 1 or 2");
        }
        if !(0.5..=0.999).contains(&self.coverage) {
            return fault("coverage", self.coverage, "it must be from 0.5 to 0.999");
        }
        if !(200..=100_000).contains(&self.draws) {
            return fault("draws", self.draws as f64, "it must be from 200 to 100 000");
        }
        if self.interval_s.0.partial_cmp(&self.interval_s.1) != Some(std::cmp::Ordering::Less) {
            return fault("interval_s", self.interval_s.0, "the interval must have a length");
        }
        Ok(())
    }
}

/// A band that holds throughout.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SimultaneousBand {
    /// Half-width of the band over the pointwise standard uncertainty: 1.96 pointwise, more for a whole curve.
    pub factor: f64,
    /// The derivative.
    pub order: usize,
    /// Share of true curves that lie within it throughout.
    pub coverage: f64,
    /// Frames over which it holds.
    pub n_frames: usize,
}

/// The factor by which pointwise standard uncertainties are multiplied for a band that holds over an interval at once.
///
/// # Errors
/// [`MotionFailure::Setting`] for settings out of range, [`MotionFailure::TooFewMarks`] where the interval misses the curve.
pub fn simultaneous_band(
    curve: &Smoothed,
    options: &SimultaneousOptions,
) -> Result<SimultaneousBand, MotionFailure> {
    options.check()?;
    let (from_s, to_s) = options.interval_s;
    let frames: Vec<usize> =
        (0..curve.times_s.len()).filter(|&i| (from_s..=to_s).contains(&curve.times_s[i])).collect();
    if frames.is_empty() {
        return Err(MotionFailure::TooFewMarks { what: "band of a curve", found: 0, needed: 1 });
    }
    let k = options.order;
    let sds: Vec<f64> = frames.iter().map(|&i| curve.covs[i][k][k].sqrt()).collect();
    let mut random = Xoshiro256PlusPlus::seed_from_u64(options.seed);
    let mut greatest: Vec<f64> = (0..options.draws)
        .map(|_| {
            let drawn = curve.drawn(|| StandardNormal.sample(&mut random));
            let apart = frames.iter().zip(&sds).map(|(&i, sd)| (drawn[i][k] - curve.states[i][k]).abs() / sd);
            apart.fold(0.0, f64::max)
        })
        .collect();
    greatest.sort_by(f64::total_cmp);
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a place in a list"
    )]
    let place = (options.coverage * options.draws as f64).ceil() as usize;
    let factor = greatest[place.clamp(1, greatest.len()) - 1];
    Ok(SimultaneousBand { factor, order: k, coverage: options.coverage, n_frames: frames.len() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples::Sample;
    use crate::{Degree, SmoothOptions, smooth};
    use rand_distr::Normal;

    fn film() -> Vec<f64> {
        (0..220).map(|i| f64::from(i) * 1e-3).collect()
    }

    #[test]
    fn whole_curves_lie_within_the_band_as_often_as_it_says() {
        // Truths are drawn from a curve's own law: then the share inside is known exactly.
        let times = film();
        let marks: Vec<Sample> = times.iter().map(|&t| Some(((30.0 * t).sin() * 0.05, 1e-8))).collect();
        for degree in [Degree::Five, Degree::Seven] {
            let options = SmoothOptions { degree, onsets_s: vec![0.08], ..SmoothOptions::default() };
            let curve = smooth(&times, &marks, &options).unwrap();
            for order in 0..3 {
                let asked = SimultaneousOptions { order, draws: 4000, ..SimultaneousOptions::default() };
                let band = simultaneous_band(&curve, &asked).unwrap();
                assert!((2.5..4.5).contains(&band.factor), "{band:?}");
                let mut random = Xoshiro256PlusPlus::seed_from_u64(77);
                let (mut inside, n) = (0, 2000);
                let mut squares = 0.0;
                for _ in 0..n {
                    let drawn = curve.drawn(|| StandardNormal.sample(&mut random));
                    let apart = |i: usize| {
                        (drawn[i][order] - curve.states[i][order]).abs() / curve.covs[i][order][order].sqrt()
                    };
                    squares += apart(83).powi(2) / f64::from(n);
                    inside += i32::from((0..times.len()).all(|i| apart(i) <= band.factor));
                }
                let share = f64::from(inside) / f64::from(n);
                assert!((0.93..=0.97).contains(&share), "order {order}: {share}");
                // Drawn curves scatter as the pointwise band says.
                assert!((squares - 1.0).abs() < 0.25, "order {order}: {squares}");
            }
        }
    }

    #[test]
    fn true_curves_lie_within_the_band() {
        let times = film();
        let truth: Vec<f64> = times.iter().map(|&t| 0.05 * (60.0 * t).sin()).collect();
        let noise = Normal::new(0.0, 1e-4).unwrap();
        let (mut inside, n) = ([0.0; 2], 80);
        for seed in 0..n {
            let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
            let marks: Vec<Sample> =
                truth.iter().map(|value| Some((value + noise.sample(&mut random), 1e-8))).collect();
            let curve = smooth(&times, &marks, &SmoothOptions::default()).unwrap();
            for (order, inside) in inside.iter_mut().enumerate() {
                let asked = SimultaneousOptions { order, draws: 400, ..SimultaneousOptions::default() };
                let factor = simultaneous_band(&curve, &asked).unwrap().factor;
                let w = 60.0_f64.powi(i32::try_from(order).unwrap());
                let of = |t: f64| if order == 0 { (60.0 * t).sin() } else { (60.0 * t).cos() };
                let within = times.iter().enumerate().all(|(i, &t)| {
                    let sd = curve.covs[i][order][order].sqrt();
                    (curve.states[i][order] - 0.05 * w * of(t)).abs() <= factor * sd
                });
                *inside += f64::from(u8::from(within)) / n as f64;
            }
        }
        println!("whole curves inside {inside:.3?}");
        assert!(inside.iter().all(|share| (0.88..=0.995).contains(share)), "{inside:.3?}");
    }

    #[test]
    fn settings_are_checked() {
        let times = film();
        let marks: Vec<Sample> = times.iter().map(|&t| Some((t, 1e-8))).collect();
        let curve = smooth(&times, &marks, &SmoothOptions::default()).unwrap();
        let good = SimultaneousOptions { draws: 200, ..SimultaneousOptions::default() };
        let one = simultaneous_band(&curve, &good).unwrap();
        assert_eq!(one, simultaneous_band(&curve, &good).unwrap());
        for bad in [
            SimultaneousOptions { order: 3, ..good },
            SimultaneousOptions { coverage: 1.0, ..good },
            SimultaneousOptions { draws: 10, ..good },
            SimultaneousOptions { interval_s: (1.0, f64::NAN), ..good },
            SimultaneousOptions { interval_s: (5.0, 6.0), ..good },
        ] {
            assert!(simultaneous_band(&curve, &bad).is_err(), "{bad:?}");
        }
    }
}
