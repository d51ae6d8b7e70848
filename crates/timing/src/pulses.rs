//! Pulses of a lamp in a series of levels, one a frame: the sub-frame instants at which it goes on and off.

use crate::error::{all_finite, setting};
use crate::levels::{TwoLevels, median, two_levels};
use crate::posterior::instant;
use crate::{TimingError, TimingNote};
use serde::{Deserialize, Serialize};

/// Which change of the lamp.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Edge {
    /// Off to on.
    On,
    /// On to off.
    Off,
    /// The middle of a light spot on the edge of running film.
    Spot,
}

/// One timing mark on the film.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pulse {
    /// Frame coordinate of the instant: whole numbers are mid-exposures.
    pub frame: f64,
    /// Standard uncertainty, frames.
    pub u_frames: f64,
    /// Which change it is.
    pub edge: Edge,
}

/// How pulses are found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PulseOptions {
    /// Exposure as a share of the frame interval, above 0, up to 1.
    pub exposure_share: f64,
    /// Grey level at which the picture is at its limit, where known; a lamp above 98 % of it is overexposed.
    pub full_scale: Option<f64>,
    /// Fewest standard deviations of the noise between the lamp's two levels.
    pub least_contrast_ratio: f64,
    /// Doubt that brightness is proportional to the lit share of the exposure, as a share of the lamp's contrast:
    /// the camera's linearity and the lamp's steadiness.
    pub linearity_u: f64,
}

impl Default for PulseOptions {
    fn default() -> Self {
        Self { exposure_share: 1.0, full_scale: None, least_contrast_ratio: 8.0, linearity_u: 0.01 }
    }
}

impl PulseOptions {
    /// Whether the settings make sense.
    ///
    /// # Errors
    /// [`TimingError::Setting`] names the one that does not.
    pub fn check(&self) -> Result<(), TimingError> {
        check_exposure(self.exposure_share)?;
        if let Some(level) = self.full_scale {
            setting("full_scale", level, "it must be above 0", |level| level > 0.0)?;
        }
        setting("least_contrast_ratio", self.least_contrast_ratio, "it must be at least 3", |ratio| {
            ratio >= 3.0
        })?;
        setting("linearity_u", self.linearity_u, "it must be from 0 to 0.5", |u| (0.0..=0.5).contains(&u))
    }
}

/// The pulses of a series.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PulseTrain {
    /// In order of time; on and off edges alternate.
    pub pulses: Vec<Pulse>,
    /// Level of the dark lamp.
    pub off_level: f64,
    /// Level of the lit lamp.
    pub on_level: f64,
    /// Standard deviation of a level.
    pub noise: f64,
    /// What is doubtful.
    pub notes: Vec<TimingNote>,
}

impl PulseTrain {
    /// The pulses of one kind, as [`crate::fit_film_clock`] wants them.
    #[must_use]
    pub fn edges(&self, edge: Edge) -> Vec<Pulse> {
        self.pulses.iter().filter(|pulse| pulse.edge == edge).copied().collect()
    }
}

/// Finds every change of a lamp in `levels`, one mean level for each frame from frame 0 on.
///
/// A lamp that changes during an exposure leaves a level between its two, and the share tells when; one that changes
/// between exposures is known to lie in the blind gap, evenly. Instant and uncertainty are the mean and the standard
/// deviation of what the two levels about the change allow.
///
/// # Errors
/// [`TimingError`] for settings out of range, fewer than three levels, a level that is not finite, or levels that
/// do not change.
pub fn pulses(levels: &[f64], options: &PulseOptions) -> Result<PulseTrain, TimingError> {
    options.check()?;
    if levels.len() < 3 {
        return Err(TimingError::TooFew { what: "levels for lamp pulses", found: levels.len(), needed: 3 });
    }
    all_finite("lamp levels", levels)?;
    let lamp = two_levels(levels)
        .filter(|lamp| lamp.on - lamp.off >= options.least_contrast_ratio * lamp.noise)
        .ok_or(TimingError::NoChange { what: "lamp pulses" })?;
    let mut notes = Vec::new();
    let overexposed = options.full_scale.is_some_and(|limit| lamp.on >= 0.98 * limit);
    if overexposed {
        notes.push(TimingNote::Saturated { level: lamp.on });
    }
    let is_lit = |at: usize| levels[at] > lamp.threshold;
    let changes: Vec<usize> = (1..levels.len()).filter(|&at| is_lit(at) != is_lit(at - 1)).collect();
    let mut pulses = Vec::with_capacity(changes.len());
    for &at in &changes {
        let edge = if is_lit(at) { Edge::On } else { Edge::Off };
        let is_change = |at: usize| changes.binary_search(&at).is_ok();
        let alone = is_change(at + 1) || is_change(at - 1) || at + 1 == levels.len();
        let fitted = if overexposed || alone { None } else { within(levels, at, edge, &lamp, options) };
        let (frame, u_frames) = if let Some(found) = fitted {
            found
        } else if overexposed {
            whole_interval(at, edge, options.exposure_share)
        } else if alone {
            notes.push(TimingNote::ShortPulse { frame: at });
            whole_interval(at, edge, options.exposure_share)
        } else {
            notes.push(TimingNote::SlowChange { frame: whole_frame(at) });
            slow_change(levels, at, &lamp)
        };
        pulses.push(Pulse { frame, u_frames, edge });
    }
    notes.extend(missing_ends(&pulses, levels.len()));
    Ok(PulseTrain { pulses, off_level: lamp.off, on_level: lamp.on, noise: lamp.noise, notes })
}

/// Rule for an exposure given as a share of the frame interval.
pub(crate) fn check_exposure(share: f64) -> Result<(), TimingError> {
    setting("exposure_share", share, "it must be above 0 and at most 1", |share| share > 0.0 && share <= 1.0)
}

#[expect(clippy::cast_precision_loss, reason = "frame numbers fit 32 bits")]
pub(crate) fn whole_frame(at: usize) -> f64 {
    at as f64
}

/// Share of the exposure of a frame during which a lamp is lit that goes on at `instant`.
pub(crate) fn lit_share(frame: f64, instant: f64, exposure_share: f64) -> f64 {
    ((frame - instant) / exposure_share + 0.5).clamp(0.0, 1.0)
}

/// The instant from the levels of the frames before and after the change; `None` when no step explains both.
fn within(
    levels: &[f64],
    at: usize,
    edge: Edge,
    lamp: &TwoLevels,
    options: &PulseOptions,
) -> Option<(f64, f64)> {
    let share = options.exposure_share;
    let contrast = lamp.on - lamp.off;
    // A floor keeps levels without any noise from claiming an instant without any doubt.
    let u = lamp.noise.hypot(contrast * options.linearity_u.max(1e-6));
    let chi2 = |instant: f64| -> f64 {
        let misfit = |frame: usize| {
            let on = lit_share(whole_frame(frame), instant, share);
            let lit = if edge == Edge::On { on } else { 1.0 - on };
            ((levels[frame] - lamp.off - contrast * lit) / u).powi(2)
        };
        misfit(at - 1) + misfit(at)
    };
    let from = whole_frame(at - 1) - 0.5 * share;
    let to = whole_frame(at) + 0.5 * share;
    let found = instant(from, to, |instant| -0.5 * chi2(instant))?;
    // Two levels and one unknown: a step that misses by more than four standard deviations is none.
    (chi2(found.0) <= 16.0).then_some(found)
}

/// A change first seen in frame `at` lies evenly over one interval: u = 1/√12 (JCGM 100, 4.3.7).
pub(crate) fn whole_interval(at: usize, edge: Edge, exposure_share: f64) -> (f64, f64) {
    let half_exposure = if edge == Edge::Off { -0.5 * exposure_share } else { 0.5 * exposure_share };
    (whole_frame(at) - 0.5 + half_exposure, 1.0 / 12.0_f64.sqrt())
}

/// A lamp that is between its levels for several frames changed at some instant from the last frame at the one level to
/// the first at the other.
fn slow_change(levels: &[f64], at: usize, lamp: &TwoLevels) -> (f64, f64) {
    let margin = (4.0 * lamp.noise).max(0.02 * (lamp.on - lamp.off));
    let is_between = |at: usize| levels[at] > lamp.off + margin && levels[at] < lamp.on - margin;
    let first = (0..at).rev().find(|&at| !is_between(at)).unwrap_or(0);
    let last = (at..levels.len()).find(|&at| !is_between(at)).unwrap_or(levels.len() - 1);
    let (first, last) = (whole_frame(first), whole_frame(last));
    (0.5 * (first + last), (last - first) / 12.0_f64.sqrt())
}

/// Marks that begin late, stop half-way or are too few. `n_frames` is the film's length.
pub(crate) fn missing_ends(pulses: &[Pulse], n_frames: usize) -> Vec<TimingNote> {
    let mut notes = Vec::new();
    let marks: Vec<f64> =
        pulses.iter().filter(|pulse| pulse.edge != Edge::Off).map(|pulse| pulse.frame).collect();
    let spacings: Vec<f64> = marks.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let (Some(usual), Some(&first), Some(&last)) = (median(&spacings), marks.first(), marks.last()) else {
        return vec![TimingNote::TooFewMarks { found: marks.len() }];
    };
    if first > 2.5 * usual {
        notes.push(TimingNote::MarksStartLate { first_frame: first });
    }
    let frames_left = whole_frame(n_frames) - 1.0 - last;
    if frames_left > 2.5 * usual {
        notes.push(TimingNote::MarksStop { last_frame: last, frames_left });
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lamp(n_frames: usize, share: f64, on_off: &[(f64, f64)]) -> Vec<f64> {
        (0..n_frames)
            .map(|at| {
                let frame = whole_frame(at);
                let lit =
                    |&(on, off): &(f64, f64)| lit_share(frame, on, share) - lit_share(frame, off, share);
                20.0 + 160.0 * on_off.iter().map(lit).sum::<f64>()
            })
            .collect()
    }

    #[test]
    fn transition_frame_tells_the_instant() {
        // On half-way through the exposure of frame 12; off in the blind gap after frame 20.
        let levels = lamp(40, 0.5, &[(12.1, 20.4), (30.0, 36.0)]);
        let options = PulseOptions { exposure_share: 0.5, linearity_u: 0.0, ..PulseOptions::default() };
        let train = pulses(&levels, &options).unwrap();
        assert_eq!(train.pulses.len(), 4);
        assert!((train.pulses[0].frame - 12.1).abs() < 1e-6, "{:?}", train.pulses);
        assert!((train.pulses[1].frame - 20.5).abs() < 1e-3);
        assert!((train.pulses[1].u_frames - 0.5 / 12.0_f64.sqrt()).abs() < 1e-3);
        assert_eq!(train.pulses[1].edge, Edge::Off);
    }

    #[test]
    fn marks_that_stop_are_named() {
        let pairs: Vec<(f64, f64)> =
            (0..5).map(|k| (10.0 * f64::from(k) + 3.2, 10.0 * f64::from(k) + 8.1)).collect();
        let train = pulses(&lamp(120, 1.0, &pairs), &PulseOptions::default()).unwrap();
        let named = |note: &TimingNote| matches!(note, TimingNote::MarksStop { last_frame, .. } if (last_frame - 43.2).abs() < 0.1);
        assert!(train.notes.iter().any(named), "{:?}", train.notes);
    }

    #[test]
    fn slow_lamps_are_known_to_the_frames_they_take() {
        let levels: Vec<f64> =
            (0..40).map(|at| 20.0 + 160.0 * ((whole_frame(at) - 10.0) / 4.0).clamp(0.0, 1.0)).collect();
        let train = pulses(&levels, &PulseOptions::default()).unwrap();
        assert!(matches!(train.notes[0], TimingNote::SlowChange { .. }), "{:?}", train.notes);
        assert!((train.pulses[0].frame - 12.0).abs() < 1e-12);
        assert!((train.pulses[0].u_frames - 4.0 / 12.0_f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn overexposed_lamps_are_known_to_an_interval() {
        let levels = lamp(30, 0.5, &[(12.1, 20.4)]);
        let options =
            PulseOptions { exposure_share: 0.5, full_scale: Some(180.0), ..PulseOptions::default() };
        let train = pulses(&levels, &options).unwrap();
        assert!(matches!(train.notes[0], TimingNote::Saturated { .. }));
        assert!((train.pulses[0].u_frames - 1.0 / 12.0_f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn useless_series_are_refused() {
        let refused = |levels: &[f64]| pulses(levels, &PulseOptions::default()).unwrap_err();
        assert!(matches!(refused(&[]), TimingError::TooFew { .. }));
        assert!(matches!(refused(&[7.0; 50]), TimingError::NoChange { .. }));
        assert!(matches!(refused(&[7.0, f64::NAN, 7.0]), TimingError::Unusable { index: 1, .. }));
        let options = PulseOptions { exposure_share: 0.0, ..PulseOptions::default() };
        assert!(matches!(pulses(&[0.0, 1.0, 0.0], &options), Err(TimingError::Setting { .. })));
    }
}
