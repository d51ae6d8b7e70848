//! One camera's clock: frame number → seconds from time zero at mid-exposure, and what is doubtful about it.

use super::film::Film;
use crate::options::FindingOptions;
use crate::plan::{CameraPlan, MarksPlan, SpeedEvidence, ZeroPlan};
use filmgauge_timing::{
    Edge, EdgeMarkOptions, FilmClock, FilmSpeedOptions, FlashOptions, LampShape, Pulse, PulseOptions,
    RateRecord, TimingError, edge_marks, fit_clock_points, fit_film_clock, flash_zero, pulses,
};

/// A camera's clock.
#[derive(Debug, Clone)]
pub(crate) struct Clock {
    film: FilmClock,
    /// Frame coordinate of time zero; whole numbers are mid-exposures.
    zero_frame: f64,
    /// Time zero lies this much after that frame, s.
    pub(crate) zero_shift_s: f64,
    /// Standard uncertainties by which intervals are stretched; moved by the budget.
    pub(crate) speed_moved: f64,
    /// Standard uncertainty of time zero, s.
    pub(crate) zero_u_s: f64,
    /// How time zero was found, in words.
    pub(crate) zero_method: String,
    /// Film speed in words.
    pub(crate) speed_text: String,
}

/// What a person should know about a clock.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct ClockTroubles {
    /// Time zero could not be found; it is then frame 0.
    pub(crate) zero: Option<String>,
    /// The timing marks could not be used; the record stands.
    pub(crate) speed: Option<String>,
    /// Doubts about marks that were used.
    pub(crate) notes: Vec<String>,
}

impl Clock {
    /// Mid-exposure of a frame, seconds from time zero.
    pub(crate) fn time_s(&self, frame: usize) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "frame numbers fit 32 bits")]
        let (interval_s, u_s) = self.film.interval_s(self.zero_frame, frame as f64);
        interval_s + self.speed_moved * u_s.copysign(interval_s) - self.zero_shift_s
    }

    /// Standard uncertainty of a frame's mid-exposure from time zero, s: the doubts of film speed and time zero.
    pub(crate) fn time_u_s(&self, frame: usize) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "frame numbers fit 32 bits")]
        let (_, speed_u_s) = self.film.interval_s(self.zero_frame, frame as f64);
        speed_u_s.hypot(self.zero_u_s)
    }

    /// Standard uncertainty of an instant of which a person says no more than its frame, s: anywhere within one frame's time,
    /// with the doubts of film speed and time zero.
    pub(crate) fn frame_u_s(&self, frame: usize) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "frame numbers fit 32 bits")]
        let (_, speed_u_s) = self.film.interval_s(self.zero_frame, frame as f64);
        (self.interval_s() / 12.0_f64.sqrt()).hypot(speed_u_s).hypot(self.zero_u_s)
    }

    /// Time from a frame to the next about time zero, s.
    pub(crate) fn interval_s(&self) -> f64 {
        1.0 / self.film.frames_per_s(self.zero_frame).0
    }

    /// Whether the film speed has an uncertainty at all.
    pub(crate) fn speed_is_doubtful(&self) -> bool {
        self.film.interval_s(self.zero_frame, self.zero_frame + 1.0).1 > 0.0
    }

    /// Sets time zero `shift_s` after where it stands.
    pub(crate) fn set_zero(&mut self, shift_s: f64, u_s: f64, method: String) {
        self.zero_shift_s += shift_s;
        self.zero_u_s = u_s;
        self.zero_method = method;
    }
}

/// The clock of a camera before contact and ties are known.
pub(crate) fn clock(camera: &CameraPlan, film: &Film, options: &FindingOptions) -> (Clock, ClockTroubles) {
    let mut troubles = ClockTroubles::default();
    // Fields are frames of their own, twice as many.
    let rate = camera.speed.frames_per_s * if camera.fields.is_some() { 2.0 } else { 1.0 };
    let record = FilmClock::constant(rate, camera.speed.relative_u);
    let fitted = fitted_clock(camera, film, rate);
    let film_clock = match (fitted, record) {
        (Some(Ok(fitted)), _) => {
            troubles.notes.extend(fitted.notes().iter().map(ToString::to_string));
            Some(fitted)
        }
        (Some(Err(error)), record) => {
            troubles.speed = Some(error.to_string());
            record.ok()
        }
        (None, record) => record.ok(),
    };
    // The plan holds only speeds that make a constant clock.
    let film_clock = film_clock.unwrap_or_else(|| unreachable!("the plan has checked the film speed"));
    let mut clock = Clock {
        speed_text: speed_text(camera, &film_clock),
        film: film_clock,
        zero_frame: 0.0,
        zero_shift_s: 0.0,
        speed_moved: 0.0,
        zero_u_s: 0.0,
        zero_method: String::new(),
    };
    troubles.zero = set_zero(&mut clock, camera, film, options);
    (clock, troubles)
}

/// The clock that marks or points tell; `None` where there are none.
fn fitted_clock(camera: &CameraPlan, film: &Film, rate: f64) -> Option<Result<FilmClock, TimingError>> {
    let record = (camera.speed.relative_u > 0.0)
        .then_some(RateRecord { frames_per_s: rate, relative_u: camera.speed.relative_u });
    let mut options = FilmSpeedOptions { record, ..FilmSpeedOptions::default() };
    match &camera.speed.evidence {
        SpeedEvidence::Record => None,
        SpeedEvidence::Points(points) => Some(fit_clock_points(points, &options)),
        SpeedEvidence::Marks(marks) => {
            options.scale_relative_u = marks.frequency_relative_u;
            Some(
                read_marks(camera, film, marks, rate)
                    .and_then(|read| fit_film_clock(&read, marks.frequency_hz, &options)),
            )
        }
    }
}

/// Timing marks of one kind, in order.
fn read_marks(
    camera: &CameraPlan,
    film: &Film,
    marks: &MarksPlan,
    rate: f64,
) -> Result<Vec<Pulse>, TimingError> {
    let mut read = match marks.spots {
        None => {
            let options = PulseOptions {
                exposure_share: (camera.exposure_s * rate).clamp(1e-6, 1.0),
                full_scale: Some(full_scale(film)),
                ..PulseOptions::default()
            };
            pulses(&film.looks.lamp, &options)?.edges(Edge::On)
        }
        Some(spots) => {
            #[expect(clippy::cast_precision_loss, reason = "picture heights stay far below 2^53")]
            let middle_px = film.info.height as f64 / 2.0 - 0.5 - marks.region.y as f64;
            let options = EdgeMarkOptions {
                pitch_px: spots.pitch_px,
                middle_px,
                later_towards_end: spots.later_downwards,
                lamp_to_gate_frames: 0.0,
                ..EdgeMarkOptions::default()
            };
            edge_marks(&film.looks.spots, &options)?.pulses
        }
    };
    for mark in &mut read {
        mark.frame += marks.lamp_to_gate_frames;
    }
    Ok(read)
}

fn full_scale(film: &Film) -> f64 {
    2.0_f64.powi(i32::from(film.info.bits)) - 1.0
}

/// Film speed as the sheet says it.
fn speed_text(camera: &CameraPlan, clock: &FilmClock) -> String {
    let middle = clock.marked().map_or(0.0, |[first, last]| (first + last) / 2.0);
    let (speed, u) = clock.frames_per_s(middle);
    let figure = format!("{speed:.3} frames/s ± {:.4} %", 196.0 * u / speed);
    let residuals = clock.residuals();
    if residuals.is_empty() {
        return format!("{figure}, {}", camera.speed.source);
    }
    let rms_us = clock.residual_rms_s().unwrap_or(0.0) * 1e6;
    let kind = if clock.degree() == 1 { "constant" } else { "changing" };
    let [first, last] = clock.marked().unwrap_or_default();
    format!(
        "{figure} at frame {middle:.0}, {kind}; {} timing marks from frame {first:.1} to {last:.1}, residuals {rms_us:.1} us rms; record: {} frames/s, {}",
        residuals.len(),
        camera.speed.frames_per_s,
        camera.speed.source
    )
}

/// Sets time zero where the film alone tells it; says why where it does not.
fn set_zero(clock: &mut Clock, camera: &CameraPlan, film: &Film, options: &FindingOptions) -> Option<String> {
    match &camera.zero {
        ZeroPlan::Frame { frame, u_s } => {
            clock.zero_frame = *frame;
            clock.zero_u_s = *u_s;
            clock.zero_method = format!("frame {frame}, typed");
            None
        }
        ZeroPlan::Contact => {
            clock.zero_method = "first contact, from the motion".into();
            None
        }
        ZeroPlan::Camera { camera, .. } => {
            clock.zero_method = format!("not carried over from camera {camera}: times count from frame 0");
            None
        }
        ZeroPlan::Flash { region, rise_s, delay_s, delay_u_s } => {
            let per_s = 1.0 / clock.interval_s();
            let flash = FlashOptions {
                exposure_share: (camera.exposure_s * per_s).clamp(1e-6, 1.0),
                full_scale: full_scale(film),
                least_rise_share: options.flash_rise_share,
                least_rise_factor: options.flash_rise_factor,
                lamp: if *rise_s > 0.0 {
                    LampShape::Exponential { rise_frames: rise_s * per_s }
                } else {
                    LampShape::Step
                },
                delay_frames: delay_s * per_s,
                delay_u_frames: delay_u_s * per_s,
                ..FlashOptions::default()
            };
            let levels = if region.is_some() { &film.looks.flash } else { &film.mean_levels };
            match flash_zero(levels, &flash) {
                Ok(zero) => {
                    clock.zero_frame = zero.frame;
                    clock.zero_u_s = zero.u_frames / per_s;
                    clock.zero_method = format!("{}, frame {}", zero.method.words(), zero.first_seen);
                    None
                }
                Err(error) => {
                    clock.zero_method = "no flash found: times count from frame 0".into();
                    Some(format!("no flash was found in the film: {error}"))
                }
            }
        }
    }
}
