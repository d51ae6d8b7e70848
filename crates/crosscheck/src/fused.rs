//! Film and channel in one motion: the channel gives the shape, the film place and speed, and each corrects the other.
//!
//! Place = x0 + v0 t + (1/G) ∬ reading − (b/G) ∬ 1 + wander, where the wander is the sensor's noise integrated twice, a Gaussian
//! process whose covariance is known. The film's positions are that, times its scale, on its own clock, plus noise. All is
//! estimated at once by generalised least squares, and the wander by its best linear prediction (Rauch–Tung–Striebel's
//! smoother would give the same: the process is Markov). Gain, scale and film speed are states with what is known of them.

use crate::film::{FilmAtSensor, SensedAxis};
use crate::fit::{Fit, INVERSE_GAIN, Known, LAG, OFFSET, fit, look_for_lag};
use crate::frames::{Frames, frames_in_common};
use crate::integrals::Integrals;
use crate::noise::{sensor_noise, wander_covariance, wander_speed_covariance};
use crate::system::System;
use crate::{CrosscheckFailure, CrosscheckOptions, Measured};
use filmgauge_sensors::Channel;
use nalgebra::{DMatrix, DVector};

/// A gain further from 1 than so many standard uncertainties of the calibration is no calibration error.
const GREATEST_PULL: f64 = 3.0;

/// Settings of [`fuse`].
#[derive(Debug, Clone, PartialEq)]
pub struct FuseOptions {
    /// Stretch, search range and noise.
    pub crosscheck: CrosscheckOptions,
    /// Relative standard uncertainty of the sensor's calibration before the film is asked; above 0. 2 % is common practice, no
    /// source.
    pub calibration_u: f64,
    /// The two are consistent while the mean square of the normalised residuals stays below this.
    pub consistency_limit: f64,
}

impl Default for FuseOptions {
    fn default() -> Self {
        Self { crosscheck: CrosscheckOptions::default(), calibration_u: 0.02, consistency_limit: 1.5 }
    }
}

impl FuseOptions {
    /// Whether all settings lie in their ranges.
    ///
    /// # Errors
    /// [`CrosscheckFailure::Settings`] naming the first that does not.
    pub fn check(&self) -> Result<(), CrosscheckFailure> {
        self.crosscheck.check()?;
        let range = "it must be a finite number above 0";
        for (name, value) in
            [("calibration_u", self.calibration_u), ("consistency_limit", self.consistency_limit)]
        {
            if !(value.is_finite() && value > 0.0) {
                return Err(CrosscheckFailure::Settings { name, value, range });
            }
        }
        Ok(())
    }
}

/// The motion of the sensor's place by film and channel together, at every frame time of the stretch, gaps too.
#[derive(Debug, Clone, PartialEq)]
pub struct Fused {
    /// Frame times, s.
    pub times_s: Vec<f64>,
    /// Inertial place, m, with its standard uncertainty.
    pub place_m: Vec<Measured>,
    /// Inertial speed, m/s, with its standard uncertainty.
    pub speed_m_s: Vec<Measured>,
    /// Channel's reading over truth, as both together have it.
    pub gain: Measured,
    /// Constant added by the channel, m/s².
    pub offset_m_s2: Measured,
    /// Channel later than film, s.
    pub lag_s: Measured,
    /// Mean square of the normalised residuals, about 1 where film and channel are consistent.
    pub consistency: f64,
    /// Whether that is below its limit and the gain within three standard uncertainties of the calibration.
    pub consistent: bool,
    /// Joint errors of place and speed: each mode is one standard deviation of an independent error common to all frames.
    pub modes: Vec<(Vec<f64>, Vec<f64>)>,
}

/// Film and channel as one motion.
///
/// The channel as for [`crate::crosscheck()`]. Off by default wherever it is offered: film and channel no longer check one another once they
/// are one, so look at the crosscheck first.
///
/// # Errors
/// As [`crate::crosscheck()`].
pub fn fuse(
    film: &FilmAtSensor,
    channel: &Channel,
    axis: SensedAxis,
    options: &FuseOptions,
) -> Result<Fused, CrosscheckFailure> {
    options.check()?;
    film.check()?;
    crate::crosscheck::check_channel(channel, "m/s2")?;
    let noise_m2_s3 = sensor_noise(channel, film.contact_s, &options.crosscheck);
    let margin_s = options.crosscheck.lag_search_s.min(0.005);
    let frames = frames_in_common(film, channel, &options.crosscheck, [-margin_s, margin_s])?;
    let system = System::new(film, channel, axis, &options.crosscheck, frames, noise_m2_s3)?;
    let unsettled = |problem: &str| CrosscheckFailure::NotDetermined {
        code: channel.code.clone(),
        problem: format!("{problem}; look at the crosscheck first"),
    };
    let near_s =
        look_for_lag(&system, margin_s).ok_or_else(|| unsettled("its columns are not independent"))?;
    let known = Known { inverse_gain: Some((1.0, options.calibration_u)), ..Known::default() };
    let first = fit(&system, near_s, &known).ok_or_else(|| unsettled("no lag fits best"))?;
    let shown = shown_frames(film, &system.frames);
    let shown_integrals = Integrals::new(film, channel, &shown);
    let problem = Problem { film, axis, options, system: &system, first: &first, noise_m2_s3 };
    problem.solved(&shown, &shown_integrals).ok_or_else(|| unsettled("its equations cannot be solved"))
}

/// All frame times within the stretch, gaps too.
fn shown_frames(film: &FilmAtSensor, used: &Frames) -> Frames {
    let within = |time_s: &f64| (used.first_s()..=used.last_s()).contains(time_s);
    let times_s: Vec<f64> = film.times_s.iter().copied().filter(within).collect();
    Frames { position_m: vec![0.0; times_s.len()], variance_m2: vec![1.0; times_s.len()], times_s }
}

struct Problem<'a> {
    film: &'a FilmAtSensor,
    axis: SensedAxis,
    options: &'a FuseOptions,
    system: &'a System<'a>,
    first: &'a Fit,
    noise_m2_s3: f64,
}

impl Problem<'_> {
    fn solved(&self, shown: &Frames, integrals: &Integrals<'_>) -> Option<Fused> {
        let system = self.system;
        let (nuisance, prior) = self.nuisance();
        let mut columns = vec![
            system.one.clone(),
            system.time.clone(),
            system.channel(self.first.lag_s),
            system.offset.clone(),
            self.by_lag(),
        ];
        columns.extend(nuisance);
        let n_terms = columns.len();
        let design = DMatrix::from_columns(&columns);
        let mut normal = design.transpose() * &design;
        let mut right = design.transpose() * &system.film;
        let gain_weight = self.options.calibration_u.powi(-2);
        normal[(INVERSE_GAIN, INVERSE_GAIN)] += gain_weight;
        right[INVERSE_GAIN] += gain_weight;
        for (at, u) in prior.iter().enumerate() {
            normal[(LAG + 1 + at, LAG + 1 + at)] += u.powi(-2);
        }
        let covariance = inverse(&normal)?;
        let terms = &covariance * right;
        let residual = &system.film - &design * &terms;
        let chi2 = residual.norm_squared()
            + gain_weight * (terms[INVERSE_GAIN] - 1.0).powi(2)
            + prior.iter().enumerate().map(|(at, u)| (terms[LAG + 1 + at] / u).powi(2)).sum::<f64>();
        let consistency = chi2 / crate::chain::count(system.n_frames().saturating_sub(5).max(1));
        let widening = consistency.max(1.0);
        let shape = self.shape(shown, integrals, n_terms);
        let curve =
            |columns: &DMatrix<f64>, wander: &DMatrix<f64>, own: &dyn Fn(f64) -> f64, less: &[f64]| {
                // Whitened covariances of the wander at the shown times with the film's positions.
                let pulled = columns - wander * &design;
                let value = columns * &terms + wander * &residual;
                let by_terms = &pulled * &covariance;
                let measured = |i: usize| {
                    let left = own(shown.times_s[i] - shown.first_s()) - wander.row(i).norm_squared();
                    let variance = by_terms.row(i).dot(&pulled.row(i)) + left.max(0.0);
                    Measured { value: value[i] - less[i], u: (widening * variance.max(0.0)).sqrt() }
                };
                ((0..shown.len()).map(measured).collect::<Vec<_>>(), pulled)
            };
        let [wander_m, wander_m_s] = self.wander(shown)?;
        let noise = self.noise_m2_s3;
        let (gravity_m_s, gravity_m) =
            integrals.gravity(self.film, self.axis, self.options.crosscheck.zeroed_at_rest);
        let (place_m, pulled_m) =
            curve(&shape.place, &wander_m, &|t| noise * wander_covariance(t, t), &gravity_m);
        let (speed_m_s, pulled_m_s) = curve(&shape.speed, &wander_m_s, &|t| noise * t, &gravity_m_s);
        let factor = covariance.clone().cholesky()?.unpack() * widening.sqrt();
        let modes = (0..n_terms)
            .map(|at| {
                let mode = factor.column(at);
                let of = |pulled: &DMatrix<f64>| (pulled * mode).iter().copied().collect::<Vec<f64>>();
                (of(&pulled_m), of(&pulled_m_s))
            })
            .collect();
        let u = |at: usize| (widening * covariance[(at, at)]).sqrt();
        let (p, q) = (terms[INVERSE_GAIN], terms[OFFSET]);
        Some(Fused {
            times_s: shown.times_s.clone(),
            place_m,
            speed_m_s,
            gain: Measured { value: 1.0 / p, u: u(INVERSE_GAIN) / (p * p) },
            offset_m_s2: Measured { value: q / p, u: u(OFFSET) / p.abs() },
            lag_s: Measured { value: self.first.lag_s + terms[LAG], u: u(LAG).hypot(self.film.time_u_s) },
            consistency,
            consistent: consistency < self.options.consistency_limit
                && (p - 1.0).abs() < GREATEST_PULL * self.options.calibration_u,
            modes,
        })
    }

    /// What an error of the film's scale and of its speed does to its positions, and the standard uncertainty of each.
    fn nuisance(&self) -> (Vec<DVector<f64>>, Vec<f64>) {
        let system = self.system;
        let (mut columns, mut prior) = (Vec::new(), Vec::new());
        // The fitted places, not the marks: a column that holds the marks' noise would explain that noise.
        let left_m = system.in_metres(&self.first.residual);
        let fitted_m: Vec<f64> =
            system.frames.position_m.iter().zip(left_m.iter()).map(|(mark, left)| mark - left).collect();
        if self.film.gain_relative_u > 0.0 {
            // Counted from the first frame: what is common to all frames is in the start.
            columns.push(system.whitened(fitted_m.iter().map(|m| m - fitted_m[0]).collect()));
            prior.push(self.film.gain_relative_u);
        }
        if self.film.speed_relative_u > 0.0 {
            let speed = slopes(&system.frames.times_s, &fitted_m);
            let column = system.frames.times_s.iter().zip(&speed).map(|(t, v)| t * v).collect();
            columns.push(system.whitened(column));
            prior.push(self.film.speed_relative_u);
        }
        (columns, prior)
    }

    fn by_lag(&self) -> DVector<f64> {
        let (lag_s, h) = (self.first.lag_s, 1e-4);
        (self.system.channel(lag_s + h) - self.system.channel(lag_s - h))
            * (self.first.inverse_gain / (2.0 * h))
    }

    /// Columns of place and speed at the shown times; errors of scale and film speed are no part of the motion.
    fn shape(&self, shown: &Frames, integrals: &Integrals<'_>, n_terms: usize) -> Shape {
        let first_s = shown.first_s();
        let lag_s = self.first.lag_s;
        let (run_m_s, run_m) = integrals.channel_speed_and_place(lag_s);
        let (unit_m_s, unit_m) = integrals.offset_speed_and_place();
        let start = integrals.reading_at_start(lag_s);
        let readings = integrals.readings(lag_s);
        let p = self.first.inverse_gain;
        let mut place = DMatrix::zeros(shown.len(), n_terms);
        let mut speed = DMatrix::zeros(shown.len(), n_terms);
        for (i, time_s) in shown.times_s.iter().enumerate() {
            let t = time_s - first_s;
            // d/dlag of ∬ reading(t + lag) is ∫ reading − reading(start) t; its slope is reading − reading(start).
            let row_place = [1.0, t, run_m[i], -unit_m[i], p * (run_m_s[i] - start * t)];
            let row_speed = [0.0, 1.0, run_m_s[i], -unit_m_s[i], p * (readings[i] - start)];
            for at in 0..5 {
                place[(i, at)] = row_place[at];
                speed[(i, at)] = row_speed[at];
            }
        }
        Shape { place, speed }
    }

    /// Covariance of the wander, as place and as speed at the shown times, with the film's positions, whitened.
    fn wander(&self, shown: &Frames) -> Option<[DMatrix<f64>; 2]> {
        let first_s = shown.first_s();
        let used = &self.system.frames.times_s;
        let with = |covariance: fn(f64, f64) -> f64| {
            let transposed = DMatrix::from_fn(used.len(), shown.len(), |j, i| {
                self.noise_m2_s3 * covariance(shown.times_s[i] - first_s, used[j] - first_s)
            });
            Some(self.system.whitened_matrix(transposed)?.transpose())
        };
        Some([with(wander_covariance)?, with(wander_speed_covariance)?])
    }
}

struct Shape {
    place: DMatrix<f64>,
    speed: DMatrix<f64>,
}

/// Slopes over the neighbours of each point.
fn slopes(times_s: &[f64], values: &[f64]) -> Vec<f64> {
    let last = times_s.len() - 1;
    (0..times_s.len())
        .map(|i| {
            let (a, b) = (i.saturating_sub(1), (i + 1).min(last));
            (values[b] - values[a]) / (times_s[b] - times_s[a])
        })
        .collect()
}

/// Inverse by columns scaled to unit size.
fn inverse(normal: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let scale = normal.diagonal().map(f64::sqrt);
    if scale.iter().any(|size| !(size.is_finite() && *size > 0.0)) {
        return None;
    }
    let n = normal.nrows();
    let scaled = DMatrix::from_fn(n, n, |i, j| normal[(i, j)] / (scale[i] * scale[j]));
    let inverse = scaled.cholesky()?.inverse();
    Some(DMatrix::from_fn(n, n, |i, j| inverse[(i, j)] / (scale[i] * scale[j])))
}
