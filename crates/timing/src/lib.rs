//! Film speed, time zero and the common clock of cameras and sensors, each with its source and its uncertainty.
//!
//! # Conventions
//! * A *frame coordinate* is a real number: the whole number n is the middle of the exposure of frame n. With an
//!   exposure of a share e of the frame interval, frame n is exposed from n − e/2 to n + e/2.
//! * Times are seconds on a named clock; a clock's reading is turned into another's by adding an offset.
//! * Uncertainties are one standard uncertainty (JCGM 100).
//! * What is doubtful is a [`TimingNote`] beside the result; what cannot be done is a [`TimingError`].
//!
//! The room knows no file and no metre: positions enter [`lag_between`] in any unit.

mod error;
mod note;

mod brightness;
mod levels;

mod edge_marks;
mod posterior;
mod pulses;

mod least_squares;
mod quantiles;

mod film_clock;
mod film_speed;
mod numbering;
mod polynomial;
mod rolling_shutter;

mod flash_model;
mod switch;
mod time_zero;

mod banded;
mod common;
mod common_report;
mod common_system;
mod interpolation;
mod lag;
mod lag_fit;

pub use brightness::{Region, region_level};
pub use common::{CommonOptions, Drift, Observation, common_clock};
pub use common_report::{ClockCorrection, CommonClock, ObservationResidual};
pub use edge_marks::{EdgeMarkOptions, edge_marks};
pub use error::TimingError;
pub use film_clock::{ClockPoint, ClockResidual, FilmClock};
pub use film_speed::{
    ClockNoise, ClockOrigin, FilmSpeedOptions, RateRecord, fit_clock_points, fit_film_clock,
};
pub use lag::{Lag, LagOptions, TimedSeries, lag_between};
pub use note::TimingNote;
pub use pulses::{Edge, Pulse, PulseOptions, PulseTrain, pulses};
pub use rolling_shutter::{RollingShutter, mark_time_s, row_time_s};
pub use switch::{Crossing, SwitchInstant, SwitchOptions, switch_instant};
pub use time_zero::{FlashOptions, LampShape, TimeZero, ZeroMethod, flash_zero};
