//! Time zero by a flash in view: the instant at which the levels of the frames about its first light say it went on.

use crate::error::{all_finite, setting};
use crate::flash_model::FlashLevels;
use crate::levels::median;
use crate::posterior::instant;
use crate::pulses::{check_exposure, whole_frame, whole_interval};
use crate::{Edge, TimingError};
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// Frames before the flash from which the dark level is taken.
const FRAMES_BEFORE: usize = 6;
/// Frames from the first lit one on to which the lamp is fitted.
const FRAMES_AFTER: usize = 5;
/// A misfit above this many variances a frame means that the lamp follows no such shape.
const MOST_MISFIT: f64 = 4.0;

/// How a flash lamp comes on.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LampShape {
    /// Within much less than an exposure.
    #[default]
    Step,
    /// As 1 − exp(−t/rise).
    Exponential {
        /// Time constant of the rise, frames.
        rise_frames: f64,
    },
}

/// How a flash is found and timed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FlashOptions {
    /// Exposure as a share of the frame interval, above 0, up to 1.
    pub exposure_share: f64,
    /// Grey level at which the picture is at its limit.
    pub full_scale: f64,
    /// A flash is a rise from frame to frame by at least this share of full scale.
    pub least_rise_share: f64,
    /// A flash also stands out from the usual change from frame to frame by this factor.
    pub least_rise_factor: f64,
    /// How the lamp comes on.
    pub lamp: LampShape,
    /// Doubt that brightness is proportional to the light received, as a share of the rise.
    pub linearity_u: f64,
    /// From the instant wanted (a switch that fires the lamp) to first light, frames.
    pub delay_frames: f64,
    /// Standard uncertainty of that delay, frames.
    pub delay_u_frames: f64,
}

impl Default for FlashOptions {
    fn default() -> Self {
        Self {
            exposure_share: 1.0,
            full_scale: 255.0,
            least_rise_share: 0.02,
            least_rise_factor: 8.0,
            lamp: LampShape::Step,
            linearity_u: 0.01,
            delay_frames: 0.0,
            delay_u_frames: 0.0,
        }
    }
}

impl FlashOptions {
    /// Whether the settings make sense.
    ///
    /// # Errors
    /// [`TimingError::Setting`] names the one that does not.
    pub fn check(&self) -> Result<(), TimingError> {
        check_exposure(self.exposure_share)?;
        setting("full_scale", self.full_scale, "it must be above 0", |level| level > 0.0)?;
        setting("least_rise_share", self.least_rise_share, "it must be above 0 and below 1", |share| {
            share > 0.0 && share < 1.0
        })?;
        setting("least_rise_factor", self.least_rise_factor, "it must be at least 1", |factor| {
            factor >= 1.0
        })?;
        setting("linearity_u", self.linearity_u, "it must be from 0 to 0.5", |u| (0.0..=0.5).contains(&u))?;
        setting("delay_frames", self.delay_frames, "it must be finite", |_| true)?;
        setting("delay_u_frames", self.delay_u_frames, "it must be at least 0", |u| u >= 0.0)?;
        let LampShape::Exponential { rise_frames } = self.lamp else { return Ok(()) };
        setting("rise_frames", rise_frames, "it must be above 0 and at most 10", |rise| {
            rise > 0.0 && rise <= 10.0
        })
    }
}

/// What the instant of a flash rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ZeroMethod {
    /// Brightness of a frame during whose exposure the lamp came on.
    WithinExposure,
    /// The lamp came on while no frame was exposed: evenly over the blind gap.
    BlindGap,
    /// Evenly over one frame interval, because the picture is overexposed.
    Overexposed,
    /// Evenly over one frame interval, because the lamp follows no simple shape, or the film ends.
    FirstSeen,
}

impl ZeroMethod {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::WithinExposure => "flash, by the brightness of the frame in which it came on",
            Self::BlindGap => "flash, between two exposures",
            Self::Overexposed => "flash, first seen; overexposed, known to one frame interval",
            Self::FirstSeen => "flash, first seen; known to one frame interval",
        }
    }
}

/// Time zero on a film.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TimeZero {
    /// Frame coordinate: whole numbers are mid-exposures.
    pub frame: f64,
    /// Standard uncertainty, frames.
    pub u_frames: f64,
    /// What it rests on.
    pub method: ZeroMethod,
    /// Frame in which the rise was seen.
    pub first_seen: usize,
}

/// Time zero by a flash in `levels`, one mean level for each frame from frame 0 on.
///
/// The lamp comes on at an unknown instant, rises as its shape says and decays at an unknown rate. For each instant the
/// dark level and the lamp's brightness are fitted to the frames about the rise; instant and uncertainty are the mean
/// and the standard deviation of what these levels allow.
///
/// # Errors
/// [`TimingError`] for settings out of range, fewer than three levels, a level that is not finite, or no rise that
/// stands out.
pub fn flash_zero(levels: &[f64], options: &FlashOptions) -> Result<TimeZero, TimingError> {
    options.check()?;
    if levels.len() < 3 {
        return Err(TimingError::TooFew { what: "levels for a flash", found: levels.len(), needed: 3 });
    }
    all_finite("flash levels", levels)?;
    let first_seen = first_seen(levels, options).ok_or(TimingError::NoChange { what: "flash" })?;
    let lit = &levels[first_seen..(first_seen + 2).min(levels.len())];
    let overexposed = lit.iter().any(|&level| level >= 0.98 * options.full_scale);
    let fitted = if overexposed { None } else { by_brightness(levels, first_seen, options) };
    let (frame, u_frames, method) = fitted.unwrap_or_else(|| {
        let (frame, u_frames) = whole_interval(first_seen, Edge::On, options.exposure_share);
        let method = if overexposed { ZeroMethod::Overexposed } else { ZeroMethod::FirstSeen };
        (frame, u_frames.hypot(rise(options.lamp)), method)
    });
    Ok(TimeZero {
        frame: frame - options.delay_frames,
        u_frames: u_frames.hypot(options.delay_u_frames),
        method,
        first_seen,
    })
}

fn rise(lamp: LampShape) -> f64 {
    match lamp {
        LampShape::Step => 0.0,
        LampShape::Exponential { rise_frames } => rise_frames,
    }
}

/// First frame whose level rises like a flash.
fn first_seen(levels: &[f64], options: &FlashOptions) -> Option<usize> {
    let rises: Vec<f64> = levels.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let usual = median(&rises.iter().map(|rise| rise.abs()).collect::<Vec<_>>())?;
    let least = (options.least_rise_share * options.full_scale).max(options.least_rise_factor * usual);
    rises.iter().position(|&rise| rise >= least).map(|index| index + 1)
}

fn by_brightness(
    levels: &[f64],
    first_seen: usize,
    options: &FlashOptions,
) -> Option<(f64, f64, ZeroMethod)> {
    // Without a frame after the first lit one, nothing says how bright the lamp is.
    if first_seen + 1 >= levels.len() {
        return None;
    }
    let share = options.exposure_share;
    let early = 3.0 * rise(options.lamp);
    let from = whole_frame(first_seen) - 1.0 - 0.5 * share - early;
    let to = whole_frame(first_seen) + 0.5 * share;
    let frames = frames_about(first_seen, levels.len(), early);
    let flash =
        FlashLevels::new(levels, frames, first_seen, (share, rise(options.lamp)), options.linearity_u);
    let (mean, sd) = instant(from, to, |instant| -0.5 * flash.least_chi2(instant))?;
    let misfit = flash.least_chi2(mean);
    if misfit > MOST_MISFIT * whole_frame(flash.frames.len()) {
        return None;
    }
    let within = (mean - mean.round()).abs() <= 0.5 * share;
    Some((mean, sd, if within { ZeroMethod::WithinExposure } else { ZeroMethod::BlindGap }))
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most thirty frames")]
fn frames_about(first_seen: usize, n_frames: usize, early: f64) -> Range<usize> {
    let first = first_seen.saturating_sub(FRAMES_BEFORE + 1 + early.ceil() as usize);
    first..(first_seen + FRAMES_AFTER).min(n_frames)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn film(n_frames: usize, share: f64, instant: f64, decay: f64) -> Vec<f64> {
        let lit =
            FlashLevels { levels: &[], frames: 0..0, u: Vec::new(), exposure_share: share, rise_frames: 0.0 };
        (0..n_frames).map(|frame| 40.0 + 90.0 * lit.light(frame, instant, decay)).collect()
    }

    #[test]
    fn a_flash_within_an_exposure() {
        let options = FlashOptions { exposure_share: 0.5, linearity_u: 0.005, ..FlashOptions::default() };
        let zero = flash_zero(&film(40, 0.5, 12.1, f64::INFINITY), &options).unwrap();
        assert!((zero.frame - 12.1).abs() < 0.01, "{zero:?}");
        assert!(zero.u_frames < 0.03 && zero.method == ZeroMethod::WithinExposure, "{zero:?}");
    }

    #[test]
    fn a_flash_in_the_blind_gap() {
        let options = FlashOptions { exposure_share: 0.2, ..FlashOptions::default() };
        let zero = flash_zero(&film(40, 0.2, 11.4, 20.0), &options).unwrap();
        assert!((zero.frame - 11.5).abs() < 0.02 && zero.method == ZeroMethod::BlindGap, "{zero:?}");
        assert!((zero.u_frames - 0.8 / 12.0_f64.sqrt()).abs() < 0.02, "{zero:?}");
    }

    #[test]
    fn overexposed_and_last_frames_are_known_to_an_interval() {
        let options = FlashOptions { exposure_share: 0.2, full_scale: 125.0, ..FlashOptions::default() };
        let zero = flash_zero(&film(40, 0.2, 11.95, 20.0), &options).unwrap();
        assert_eq!(zero.method, ZeroMethod::Overexposed);
        assert!((zero.frame - 11.6).abs() < 1e-12);
        let zero = flash_zero(&film(13, 0.2, 11.95, 20.0), &FlashOptions::default()).unwrap();
        assert_eq!(zero.method, ZeroMethod::FirstSeen);
    }

    #[test]
    fn films_without_a_flash_are_refused() {
        let refused = |levels: &[f64]| flash_zero(levels, &FlashOptions::default()).unwrap_err();
        assert!(matches!(refused(&[]), TimingError::TooFew { .. }));
        assert!(matches!(refused(&[80.0; 30]), TimingError::NoChange { .. }));
        assert!(matches!(refused(&[80.0, f64::INFINITY, 80.0]), TimingError::Unusable { .. }));
    }
}
