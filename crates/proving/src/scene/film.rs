//! How a film or a camera's clock misbehaves: speed, timing lamp, weave, flaws of a scan, lost frames, fields, rows.

use serde::{Deserialize, Serialize};

/// A film whose speed changes: `f0 t + k t²/2` frames have passed `t` seconds after its first frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FilmRun {
    /// True film speed at the first frame, frames per second.
    pub frames_per_s: f64,
    /// Its change, frames per second per second.
    #[serde(default)]
    pub accel_per_s2: f64,
}

/// Exact settings of a camera's clock, where they shall not be drawn.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ClockSetting {
    /// From contact to the next mid-exposure, frames, 0 to 1; drawn evenly when absent. Cameras of one speed with 0.0
    /// and 0.4 run 0.4 frame apart.
    pub phase_frames: Option<f64>,
    /// True film speed over the stated one, less 1; drawn with `speed_relative_u` when absent.
    pub drift: Option<f64>,
}

/// A timing lamp: lit `duty / frequency_hz` seconds from every instant `phase_s + k / frequency_hz`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lamp {
    /// Left and top edge of its rectangle, px: -0.5 is the picture's edge.
    pub at_px: [f64; 2],
    /// Width and height of its rectangle, px.
    pub size_px: [f64; 2],
    /// Pulses per second.
    pub frequency_hz: f64,
    /// Lit share of a period, 0 to 1.
    #[serde(default = "default_duty")]
    pub duty: f64,
    /// One instant at which it lights up, seconds from time zero.
    #[serde(default)]
    pub phase_s: f64,
    /// Grey when dark throughout the exposure.
    #[serde(default = "default_off")]
    pub off_grey: f64,
    /// Grey when lit throughout the exposure.
    #[serde(default = "default_on")]
    pub on_grey: f64,
    /// The lamp's picture beside frame `n` was exposed while frame `n + displaced_frames` was in the gate.
    #[serde(default)]
    pub displaced_frames: f64,
    /// The film runs past the lamp: each row of the rectangle, from its top to its bottom edge over one frame's time
    /// from that frame's mid-exposure, shows the lamp as it was when the row passed. Otherwise the lamp is in view.
    #[serde(default)]
    pub running: bool,
}

fn default_duty() -> f64 {
    0.5
}

fn default_off() -> f64 {
    30.0
}

fn default_on() -> f64 {
    220.0
}

/// Gate weave: every frame's picture, film holes included, is shifted and turned about its middle by a normal draw.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct WeaveSetup {
    /// Standard deviation of the shift along each axis, px.
    pub shift_sd_px: f64,
    /// Standard deviation of the turn, degrees.
    pub turn_sd_deg: f64,
}

/// Camera shake: the camera swings about its pupil, never further than these amplitudes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShakeSetup {
    /// Greatest pan, as the shift of the picture's middle, px.
    pub pan_px: f64,
    /// Greatest tilt, as the shift of the picture's middle, px.
    pub tilt_px: f64,
    /// Greatest roll, degrees.
    #[serde(default)]
    pub roll_deg: f64,
    /// Frequency of the slower of two oscillations; the other is 2.7 times as fast, Hz.
    pub frequency_hz: f64,
}

/// A rectangle fixed to the film: a perforation (bright), or the dark of the frame's border.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Perforation {
    /// Left and top edge without weave, px: -0.5 is the picture's edge.
    pub at_px: [f64; 2],
    /// Width and height, px.
    pub size_px: [f64; 2],
    /// Grey inside.
    #[serde(default = "default_hole")]
    pub grey: f64,
}

fn default_hole() -> f64 {
    235.0
}

/// Flaws of a film scan, drawn anew for every frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ScanFlaws {
    /// Dust specks in every frame.
    pub specks: u32,
    /// Least and greatest radius of a speck, px.
    pub speck_radius_px: [f64; 2],
    /// Scratches along the film in every frame.
    pub scratches: u32,
    /// Width of a scratch, px.
    pub scratch_width_px: f64,
    /// Length of a scratch, px.
    pub scratch_length_px: f64,
    /// Grey of specks and scratches.
    pub flaw_grey: f64,
    /// Standard deviation of the frames' brightness, as a share.
    pub level_sd: f64,
}

impl Default for ScanFlaws {
    fn default() -> Self {
        Self {
            specks: 0,
            speck_radius_px: [1.0, 2.5],
            scratches: 0,
            scratch_width_px: 1.2,
            scratch_length_px: 60.0,
            flaw_grey: 235.0,
            level_sd: 0.0,
        }
    }
}

/// Which rows of an interlaced frame were exposed first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum FieldOrder {
    /// Rows 0, 2, 4 …
    Top,
    /// Rows 1, 3, 5 …
    Bottom,
}

impl FieldOrder {
    /// Parity of the rows of the first field.
    #[must_use]
    pub fn first_row(self) -> usize {
        match self {
            Self::Top => 0,
            Self::Bottom => 1,
        }
    }
}
