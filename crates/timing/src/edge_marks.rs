//! Light spots that a timing lamp exposed on the edge of running film: their place within a frame is a sub-frame instant.

use crate::error::{all_finite, setting};
use crate::levels::{median, spread};
use crate::pulses::{missing_ends, whole_frame};
use crate::{Edge, Pulse, PulseTrain, TimingError, TimingNote};
use serde::{Deserialize, Serialize};

/// How spots beside the frames are read.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct EdgeMarkOptions {
    /// Distance from a frame to the next along the film, px.
    pub pitch_px: f64,
    /// Place in the profile that belongs to the frame itself, px from the profile's start.
    pub middle_px: f64,
    /// Whether the film exposed later lies towards the end of the profile.
    pub later_towards_end: bool,
    /// Frames to add to a mark's place: a mark beside frame n was exposed while frame n + this was in the gate.
    /// A constant of the camera, since the lamp sits some frames away from the gate.
    pub lamp_to_gate_frames: f64,
    /// Standard uncertainty of a spot's place besides noise, px: grain, a spot's uneven edge.
    pub place_u_px: f64,
    /// Fewest standard deviations of the noise by which a spot stands out.
    pub least_contrast_ratio: f64,
}

impl Default for EdgeMarkOptions {
    fn default() -> Self {
        Self {
            pitch_px: 480.0,
            middle_px: 239.5,
            later_towards_end: false,
            lamp_to_gate_frames: 0.0,
            place_u_px: 0.5,
            least_contrast_ratio: 8.0,
        }
    }
}

impl EdgeMarkOptions {
    /// Whether the settings make sense.
    ///
    /// # Errors
    /// [`TimingError::Setting`] names the one that does not.
    pub fn check(&self) -> Result<(), TimingError> {
        setting("pitch_px", self.pitch_px, "it must be above 0", |pitch| pitch > 0.0)?;
        setting("middle_px", self.middle_px, "it must be finite", |_| true)?;
        setting("lamp_to_gate_frames", self.lamp_to_gate_frames, "it must be finite", |_| true)?;
        setting("place_u_px", self.place_u_px, "it must be above 0", |u| u > 0.0)?;
        setting("least_contrast_ratio", self.least_contrast_ratio, "it must be at least 3", |ratio| {
            ratio >= 3.0
        })
    }
}

/// Finds the light spots in `profiles`: for each frame from frame 0 on, the mean level across the edge track at each
/// pixel along the film.
///
/// A spot's place is the centroid of its level above the dark track. A spot that touches the end of its profile is
/// cut by the frame's border; it is named and left out, and the numbering of the marks counts it as skipped.
///
/// # Errors
/// [`TimingError`] for settings out of range, no profile, a level that is not finite, or a track without spots.
pub fn edge_marks(profiles: &[Vec<f64>], options: &EdgeMarkOptions) -> Result<PulseTrain, TimingError> {
    options.check()?;
    let levels: Vec<f64> = profiles.iter().flatten().copied().collect();
    if levels.len() < 3 {
        return Err(TimingError::TooFew {
            what: "levels along the edge track",
            found: levels.len(),
            needed: 3,
        });
    }
    all_finite("edge track levels", &levels)?;
    let no_spot = TimingError::NoChange { what: "light spots on the edge track" };
    let off = median(&levels).ok_or(no_spot.clone())?;
    let noise = spread(&levels.iter().map(|level| level - off).collect::<Vec<_>>());
    let on = levels.iter().copied().fold(off, f64::max);
    if on <= off || on - off < options.least_contrast_ratio * noise {
        return Err(no_spot);
    }
    let mut train = PulseTrain { pulses: Vec::new(), off_level: off, on_level: on, noise, notes: Vec::new() };
    for (frame, profile) in profiles.iter().enumerate() {
        spots_of(frame, profile, options, &mut train);
    }
    train.pulses.sort_by(|a, b| a.frame.total_cmp(&b.frame));
    let ends = missing_ends(&train.pulses, profiles.len());
    train.notes.extend(ends);
    Ok(train)
}

/// Half-way between the track and its brightest spot a spot begins; it is weighed out to the foot of its slope.
fn spots_of(frame: usize, profile: &[f64], options: &EdgeMarkOptions, train: &mut PulseTrain) {
    let half = 0.5 * (train.off_level + train.on_level);
    let foot = train.off_level + 3.0 * train.noise + 0.02 * (train.on_level - train.off_level);
    let mut at = 0;
    while at < profile.len() {
        if profile[at] <= half {
            at += 1;
            continue;
        }
        let first = profile[..at].iter().rposition(|&level| level <= foot).map(|below| below + 1);
        let end = profile[at..].iter().position(|&level| level <= foot).map(|above| at + above);
        match (first, end) {
            (Some(first), Some(end)) => train.pulses.push(spot(frame, profile, first..end, options, train)),
            _ => train.notes.push(TimingNote::MarkCut { frame }),
        }
        at = end.unwrap_or(profile.len());
    }
}

fn spot(
    frame: usize,
    profile: &[f64],
    place: std::ops::Range<usize>,
    options: &EdgeMarkOptions,
    train: &PulseTrain,
) -> Pulse {
    let weights = || place.clone().map(|at| (whole_frame(at), profile[at] - train.off_level));
    let sum: f64 = weights().map(|(_, weight)| weight).sum();
    let centre = weights().map(|(at, weight)| at * weight).sum::<f64>() / sum;
    let lever: f64 = weights().map(|(at, _)| (at - centre).powi(2)).sum();
    let u_px = options.place_u_px.hypot(train.noise * lever.sqrt() / sum);
    let sense = if options.later_towards_end { 1.0 } else { -1.0 };
    let within = sense * (centre - options.middle_px) / options.pitch_px;
    Pulse {
        frame: whole_frame(frame) + within + options.lamp_to_gate_frames,
        u_frames: u_px / options.pitch_px,
        edge: Edge::Spot,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Spots of 6 px at the given frame coordinates on a track of 100 px a frame.
    fn track(n_frames: usize, marks: &[f64]) -> Vec<Vec<f64>> {
        let level = |frame: usize, at: usize| {
            let place = whole_frame(frame) + (whole_frame(at) - 49.5) / 100.0;
            let lit = |mark: &f64| (3.5 - (place - mark).abs() * 100.0).clamp(0.0, 1.0);
            12.0 + 200.0 * marks.iter().map(lit).sum::<f64>()
        };
        (0..n_frames).map(|frame| (0..100).map(|at| level(frame, at)).collect()).collect()
    }

    fn options() -> EdgeMarkOptions {
        EdgeMarkOptions {
            pitch_px: 100.0,
            middle_px: 49.5,
            later_towards_end: true,
            ..EdgeMarkOptions::default()
        }
    }

    #[test]
    fn spots_are_placed_within_the_frame() {
        let marks = [1.232, 6.1, 11.031, 15.97];
        let shifted = EdgeMarkOptions { lamp_to_gate_frames: -5.0, ..options() };
        let train = edge_marks(&track(20, &marks), &shifted).unwrap();
        assert_eq!(train.pulses.len(), 4);
        for (pulse, mark) in train.pulses.iter().zip(marks) {
            assert!((pulse.frame + 5.0 - mark).abs() < 2e-3, "{pulse:?} {mark}");
        }
    }

    #[test]
    fn a_spot_on_the_border_is_named() {
        let train = edge_marks(&track(20, &[1.2, 6.5, 11.0, 16.0]), &options()).unwrap();
        assert_eq!(train.pulses.len(), 3);
        assert!(
            train.notes.iter().any(|note| matches!(note, TimingNote::MarkCut { .. })),
            "{:?}",
            train.notes
        );
        assert!(matches!(edge_marks(&track(9, &[]), &options()), Err(TimingError::NoChange { .. })));
        assert!(matches!(edge_marks(&[], &options()), Err(TimingError::TooFew { .. })));
    }
}
