//! Film speed from timing marks: time as the lowest polynomial of the frame number that the residuals justify.

use crate::error::{all_above_zero, all_finite, all_growing, setting};
use crate::film_clock::{ClockPoint, ClockResidual, FilmClock};
use crate::levels::median;
use crate::numbering::number;
use crate::polynomial::{FittedPolynomial, fit};
use crate::quantiles::{reduced_chi2_99, student_95};
use crate::{Pulse, TimingError, TimingNote};
use filmgauge_quantities::COVERAGE_95;
use serde::{Deserialize, Serialize};

/// A term is kept when it lowers χ² by more than this: Akaike 1974, IEEE Trans. Autom. Control 19:716. A test at 95 %
/// would leave out terms of up to two standard uncertainties.
const LEAST_GAIN: f64 = 2.0;
/// Marks whose places within the frame have a resultant above this are in step with the frames.
const IN_STEP: f64 = 0.7;
/// A record that is off by more than this many standard uncertainties is contradicted.
const CONTRADICTION: f64 = 3.0;

/// Where a clock's time is counted from.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ClockOrigin {
    /// As given: the first timing mark, or the times of the clock points.
    #[default]
    Free,
    /// The clock passes exactly through this frame at this time.
    Fixed {
        /// Frame coordinate.
        frame: f64,
        /// Its time, s.
        time_s: f64,
    },
}

/// Where the noise of the points is taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ClockNoise {
    /// Their stated uncertainties, widened where the residuals are larger than these allow.
    #[default]
    Stated,
    /// The residuals; stated uncertainties only weigh the points (JCGM 100, H.3). The result is widened so that
    /// 1.96 standard uncertainties span Student's 95 % interval.
    Residuals,
}

/// What the camera's record says about the film speed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RateRecord {
    /// Frames/s.
    pub frames_per_s: f64,
    /// Standard uncertainty as a share of it.
    pub relative_u: f64,
}

/// How a clock is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FilmSpeedOptions {
    /// Highest degree of time as a polynomial of the frame number, 1 to 8; 1 is a constant speed. More than 4 is for
    /// cameras that gain much of their speed within the marks.
    pub most_degree: usize,
    /// Where time is counted from.
    pub origin: ClockOrigin,
    /// Where the noise is taken from.
    pub noise: ClockNoise,
    /// Standard uncertainty of the timing frequency, or of the clock points' time scale, as a share of it.
    pub scale_relative_u: f64,
    /// The camera's record, to be checked against the marks.
    pub record: Option<RateRecord>,
}

impl Default for FilmSpeedOptions {
    fn default() -> Self {
        Self {
            most_degree: 4,
            origin: ClockOrigin::Free,
            noise: ClockNoise::Stated,
            scale_relative_u: 0.0,
            record: None,
        }
    }
}

impl FilmSpeedOptions {
    /// Whether the settings make sense.
    ///
    /// # Errors
    /// [`TimingError::Setting`] names the one that does not.
    #[expect(clippy::cast_precision_loss, reason = "a degree below ten")]
    pub fn check(&self) -> Result<(), TimingError> {
        let degree = self.most_degree as f64;
        setting("most_degree", degree, "it must be from 1 to 8", |degree| (1.0..=8.0).contains(&degree))?;
        let share = |u: f64| (0.0..=0.5).contains(&u);
        setting("scale_relative_u", self.scale_relative_u, "it must be from 0 to 0.5", share)?;
        if let ClockOrigin::Fixed { frame, time_s } = self.origin {
            setting("origin.frame", frame, "it must be finite", |_| true)?;
            setting("origin.time_s", time_s, "it must be finite", |_| true)?;
        }
        if let Some(record) = self.record {
            setting("record.frames_per_s", record.frames_per_s, "it must be above 0", |speed| speed > 0.0)?;
            setting("record.relative_u", record.relative_u, "it must be from 0 to 0.5", share)?;
        }
        Ok(())
    }
}

/// The clock of a film from its timing marks, one every 1/`frequency_hz` seconds, in order of frames.
///
/// Time is counted from the first mark unless the origin is fixed. Marks that are missing are counted by their
/// spacing, doubled ones and those out of place are left out, and all are named.
///
/// # Errors
/// [`TimingError`] for a frequency that is not above zero, settings out of range, fewer than two marks, marks of
/// different kinds, faulty or not in order, and marks that do not determine a clock.
pub fn fit_film_clock(
    marks: &[Pulse],
    frequency_hz: f64,
    options: &FilmSpeedOptions,
) -> Result<FilmClock, TimingError> {
    options.check()?;
    setting("frequency_hz", frequency_hz, "it must be above 0", |frequency| frequency > 0.0)?;
    if marks.len() < 2 {
        return Err(TimingError::TooFew {
            what: "timing marks for a film speed",
            found: marks.len(),
            needed: 2,
        });
    }
    if marks.iter().any(|mark| mark.edge != marks[0].edge) {
        let why = "marks of different kinds are mixed; give on edges alone, off edges alone, or spots alone";
        return Err(TimingError::NotDetermined { what: "film speed", why: why.to_owned() });
    }
    let frames: Vec<f64> = marks.iter().map(|mark| mark.frame).collect();
    all_finite("frames of timing marks", &frames)?;
    all_growing("frames of timing marks", &frames)?;
    let u_frames: Vec<f64> = marks.iter().map(|mark| mark.u_frames).collect();
    all_above_zero("uncertainties of timing marks", &u_frames)?;
    let numbered = number(&frames);
    // The doubt is along the film; as a doubt of time it is divided by the speed, which the spacing tells.
    let points: Vec<ClockPoint> = (0..numbered.kept.len())
        .map(|place| ClockPoint {
            frame: frames[numbered.kept[place]],
            time_s: numbered.numbers[place] / frequency_hz,
            u_s: u_frames[numbered.kept[place]] / (frequency_hz * numbered.spacings[place]),
        })
        .collect();
    let mut clock = fit_points(&points, None, options)?;
    clock.shared_u_s = shared_u_s(&points);
    let mut clock = match options.origin {
        ClockOrigin::Free => clock,
        ClockOrigin::Fixed { frame, time_s } => clock.with_origin(frame, time_s),
    };
    clock.notes.splice(0..0, numbered.notes);
    Ok(clock)
}

/// The clock of a film from frames whose times are known, in order of frames.
///
/// # Errors
/// [`TimingError`] for settings out of range, fewer than two points (one with a fixed origin), points that are faulty
/// or not in order of frames and times, and points that do not determine a clock.
pub fn fit_clock_points(points: &[ClockPoint], options: &FilmSpeedOptions) -> Result<FilmClock, TimingError> {
    options.check()?;
    let held = match options.origin {
        ClockOrigin::Free => None,
        ClockOrigin::Fixed { frame, time_s } => Some((frame, time_s)),
    };
    let needed = if held.is_some() { 1 } else { 2 };
    if points.len() < needed {
        return Err(TimingError::TooFew {
            what: "clock points for a film speed",
            found: points.len(),
            needed,
        });
    }
    let column = |of: fn(&ClockPoint) -> f64| -> Vec<f64> { points.iter().map(of).collect() };
    let (frames, times_s) = (column(|point| point.frame), column(|point| point.time_s));
    all_finite("frames of clock points", &frames)?;
    all_growing("frames of clock points", &frames)?;
    all_finite("times of clock points", &times_s)?;
    all_growing("times of clock points", &times_s)?;
    all_above_zero("uncertainties of clock points", &column(|point| point.u_s))?;
    fit_points(points, held, options)
}

fn fit_points(
    points: &[ClockPoint],
    held: Option<(f64, f64)>,
    options: &FilmSpeedOptions,
) -> Result<FilmClock, TimingError> {
    let column = |of: fn(&ClockPoint) -> f64| -> Vec<f64> { points.iter().map(of).collect() };
    let (frames, times_s, u_s) =
        (column(|point| point.frame), column(|point| point.time_s), column(|point| point.u_s));
    let mut fits: Vec<FittedPolynomial> = (1..=options.most_degree + 2)
        .map_while(|degree| fit(&frames, &times_s, &u_s, degree, held))
        .collect();
    if fits.is_empty() {
        let why = "the points do not determine a speed; give two that lie further apart".to_owned();
        return Err(TimingError::NotDetermined { what: "film speed", why });
    }
    let (chosen, at_limit) = lowest_justified(&fits, options);
    let (widening, doubt) = widening(&fits[chosen], options.noise);
    let higher = fits.iter().skip(chosen + 1).take(2).map(|fit| fit.polynomial.clone()).collect();
    let FittedPolynomial { mut polynomial, solved } = fits.swap_remove(chosen);
    polynomial.covariance *= widening * widening;
    let residuals = points.iter().zip(solved.residuals.iter());
    let mut clock = FilmClock {
        curve: polynomial,
        higher,
        at_limit,
        marked: Some(marked(&frames, held)),
        relative_u: options.scale_relative_u,
        shared_u_s: 0.0,
        anchor_s: held.map_or(0.0, |(_, time_s)| time_s),
        residuals: residuals
            .map(|(point, &residual_s)| ClockResidual { frame: point.frame, residual_s, u_s: point.u_s })
            .collect(),
        chi2: solved.chi2,
        freedom: solved.freedom,
        notes: doubt.into_iter().chain(at_limit.then_some(TimingNote::DegreeLimit)).collect(),
    };
    check_running(&clock, &frames)?;
    clock.notes.extend(options.record.and_then(|record| contradiction(&clock, record)));
    Ok(clock)
}

/// The part of the marks' error that does not average out. Where the lamp keeps step with the frames, every mark falls
/// into the same place of its frame, and what is doubtful there is doubtful alike for all: one mark's uncertainty.
/// The marks are in step when the resultant of their places on a circle exceeds `IN_STEP`; spread evenly it is near 0.
#[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
fn shared_u_s(points: &[ClockPoint]) -> f64 {
    let turns = points.iter().map(|point| (std::f64::consts::TAU * point.frame).sin_cos());
    let (sines, cosines) =
        turns.fold((0.0, 0.0), |(sines, cosines), (sine, cosine)| (sines + sine, cosines + cosine));
    let resultant = sines.hypot(cosines) / points.len().max(1) as f64;
    let u_s: Vec<f64> = points.iter().map(|point| point.u_s).collect();
    if resultant > IN_STEP { median(&u_s).unwrap_or(0.0) } else { 0.0 }
}

/// Place of the lowest degree to which neither the next term nor the next two together add more than chance would, and
/// whether there is none within the limit.
fn lowest_justified(fits: &[FittedPolynomial], options: &FilmSpeedOptions) -> (usize, bool) {
    let last = options.most_degree.min(fits.len()) - 1;
    let top = &fits[fits.len() - 1].solved;
    let by_residuals = options.noise == ClockNoise::Residuals || top.reduced() > reduced_chi2_99(top.freedom);
    let adds = |from: usize, n_terms: u8| {
        let Some(higher) = fits.get(from + usize::from(n_terms)).map(|fit| &fit.solved) else { return false };
        let gain = fits[from].solved.chi2 - higher.chi2;
        let limit = LEAST_GAIN * f64::from(n_terms);
        if !by_residuals {
            return gain > limit;
        }
        // With the noise taken from few residuals, as much more is asked as Student's limit is above the normal one.
        let wider = (student_95(higher.freedom) / COVERAGE_95).powi(2);
        higher.freedom > 0 && gain > limit * wider * higher.reduced()
    };
    let suffices = |degree: usize| !adds(degree, 1) && !adds(degree, 2);
    (0..=last).find(|&degree| suffices(degree)).map_or((last, true), |degree| (degree, false))
}

fn widening(chosen: &FittedPolynomial, noise: ClockNoise) -> (f64, Option<TimingNote>) {
    let solved = &chosen.solved;
    if solved.freedom == 0 {
        return (1.0, Some(TimingNote::ResidualsNotJudged));
    }
    if noise == ClockNoise::Residuals {
        return (solved.reduced().sqrt() * student_95(solved.freedom) / COVERAGE_95, None);
    }
    let factor = solved.reduced().max(1.0).sqrt();
    let is_large = solved.reduced() > reduced_chi2_99(solved.freedom);
    (factor, is_large.then_some(TimingNote::ResidualsLarge { widening: factor }))
}

fn marked(frames: &[f64], held: Option<(f64, f64)>) -> [f64; 2] {
    let all = frames.iter().copied().chain(held.map(|(frame, _)| frame));
    all.fold([f64::INFINITY, f64::NEG_INFINITY], |[first, last], frame| [first.min(frame), last.max(frame)])
}

/// A clock must run forwards wherever it has marks.
fn check_running(clock: &FilmClock, frames: &[f64]) -> Result<(), TimingError> {
    let stands = |frame: f64| {
        let slope_s = clock.curve.slope(frame).0;
        !(slope_s.is_finite() && slope_s > 0.0)
    };
    let between = frames.windows(2).map(|pair| 0.5 * (pair[0] + pair[1]));
    let marked = clock.marked.into_iter().flatten();
    match frames.iter().copied().chain(between).chain(marked).find(|&frame| stands(frame)) {
        Some(frame) => Err(TimingError::NotDetermined {
            what: "film speed",
            why: format!(
                "the fitted time stands still or runs backwards at frame {frame:.1}; check the marks"
            ),
        }),
        None => Ok(()),
    }
}

/// The mean speed over the marks against the record.
fn contradiction(clock: &FilmClock, record: RateRecord) -> Option<TimingNote> {
    let [first, last] = clock.marked?;
    let (interval_s, u_s) = clock.interval_s(first, last);
    let fitted_frames_per_s = (last - first) / interval_s;
    let u = (fitted_frames_per_s * u_s / interval_s).hypot(record.frames_per_s * record.relative_u);
    ((fitted_frames_per_s - record.frames_per_s).abs() > CONTRADICTION * u).then_some(
        TimingNote::ContradictsRecord { fitted_frames_per_s, record_frames_per_s: record.frames_per_s },
    )
}
