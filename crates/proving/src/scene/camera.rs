//! Cameras, their boards, picture making and the flash.

use super::film::{ClockSetting, FieldOrder, FilmRun, Lamp, Perforation, ScanFlaws, ShakeSetup, WeaveSetup};
use filmgauge_geometry::Lens;
use filmgauge_quantities::ViewPlane;
use serde::{Deserialize, Serialize};

/// One camera: true set-up, and what the analyst will be told about it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CameraSetup {
    /// Camera id.
    pub id: String,
    /// From the side or from above.
    #[serde(default)]
    pub view: ViewPlane,
    /// Pixels in a row.
    pub width_px: usize,
    /// Number of rows.
    pub height_px: usize,
    /// Stated film speed, frames per second.
    pub frames_per_s: f64,
    /// Standard uncertainty of the film speed, relative; the true speed is drawn with it.
    #[serde(default)]
    pub speed_relative_u: f64,
    /// Exposure, s.
    pub exposure_s: f64,
    /// Lens to board plane, m.
    pub distance_m: f64,
    /// Standard uncertainty of the stated distance, m.
    #[serde(default)]
    pub distance_u_m: f64,
    /// Where the optical axis meets the board plane: x and second axis, m.
    pub axis_m: [f64; 2],
    /// Height of the board plane above the ground, m; used from above only.
    #[serde(default)]
    pub plane_height_m: f64,
    /// Roll about the optical axis, degrees.
    #[serde(default)]
    pub roll_deg: f64,
    /// True lens.
    pub lens: Lens,
    /// Standard uncertainties of the lens file.
    #[serde(default)]
    pub lens_u: LensDoubt,
    /// Standard uncertainty of a body's stated plane offset, m, by body: car, truck, ground.
    #[serde(default)]
    pub offset_u_m: [f64; 3],
    /// The reference board.
    pub board: BoardSetup,
    /// How the picture is made.
    #[serde(default)]
    pub picture: Picture,
    /// A film of changing speed; its numbers are the truth, `frames_per_s` is what the analyst is told.
    #[serde(default)]
    pub film: Option<FilmRun>,
    /// Exact settings of the camera's clock.
    #[serde(default)]
    pub clock: ClockSetting,
    /// A timing lamp in view or beside the running film.
    #[serde(default)]
    pub lamp: Option<Lamp>,
    /// Gate weave.
    #[serde(default)]
    pub weave: Option<WeaveSetup>,
    /// A camera that shakes.
    #[serde(default)]
    pub shake: Option<ShakeSetup>,
    /// Film holes and border, which weave with the picture.
    #[serde(default)]
    pub perforations: Vec<Perforation>,
    /// Flaws of the scan.
    #[serde(default)]
    pub scan: Option<ScanFlaws>,
    /// Exposures that were never stored, counted from 0.
    #[serde(default)]
    pub dropped: Vec<u32>,
    /// Exposures that were stored twice, counted from 0.
    #[serde(default)]
    pub doubled: Vec<u32>,
    /// Interlaced: the rows exposed first; the others follow half a frame later.
    #[serde(default)]
    pub fields: Option<FieldOrder>,
    /// Rolling shutter: from the exposure of one row to that of the next below, s.
    #[serde(default)]
    pub row_time_s: f64,
}

impl CameraSetup {
    /// Whether anything but a plain film of the stated speed is asked for.
    #[must_use]
    pub fn has_film_keys(&self) -> bool {
        self.film.is_some()
            || self.clock != ClockSetting::default()
            || self.lamp.is_some()
            || self.weave.is_some()
            || self.shake.is_some()
            || !self.perforations.is_empty()
            || self.scan.is_some()
            || !self.dropped.is_empty()
            || !self.doubled.is_empty()
            || self.fields.is_some()
            || self.row_time_s > 0.0
    }
}

/// Standard uncertainties of the lens file's numbers.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct LensDoubt {
    /// Each focal length, px.
    pub focal_px: f64,
    /// Principal point, each axis, px.
    pub centre_px: f64,
    /// First radial term.
    pub k1: f64,
    /// Second radial term.
    pub k2: f64,
}

/// A board with a quadrant mark at each end, lying along the path in its own plane.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoardSetup {
    /// Place of the first end mark: x and second axis, m.
    pub from_m: [f64; 2],
    /// Stated length between the end marks, m.
    pub length_m: f64,
    /// Standard uncertainty of the length, m; the true length is drawn with it.
    #[serde(default)]
    pub length_u_m: f64,
    /// Radius of the end marks, m.
    pub mark_radius_m: f64,
    /// Standard uncertainty of reading one end along one axis, px.
    #[serde(default)]
    pub reading_u_px: f64,
}

/// How the picture is made. Grey levels are on the scale of 8 bits whatever `bits` says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Picture {
    /// Bits stored: 8 to 16.
    pub bits: u8,
    /// Standard deviation of the Gaussian point spread, px, before the pixel's own area.
    pub spread_px: f64,
    /// Standard deviation of noise at mid-grey, grey levels of 8 bits.
    pub noise_grey: f64,
    /// Share of the noise variance at mid-grey that grows with the signal, 0 to 1.
    pub shot_share: f64,
    /// Sub-instants averaged over the exposure.
    pub instants: usize,
    /// Sub-pixels along each side in which targets are painted.
    pub subpixels: usize,
    /// Background grey above the horizon.
    pub sky_grey: f64,
    /// Background grey below the horizon.
    pub ground_grey: f64,
    /// Height of the horizon in the board plane, m; none for one even ground.
    pub horizon_m: Option<f64>,
    /// Peak-to-peak texture of the background, grey levels.
    pub texture_grey: f64,
    /// Grain of the background's texture, px.
    pub grain_px: f64,
    /// Change of background grey across the picture's width.
    pub gradient_grey: f64,
    /// Grey of a target's light paint.
    pub light_grey: f64,
    /// Grey of a target's dark paint.
    pub dark_grey: f64,
}

impl Default for Picture {
    fn default() -> Self {
        Self {
            bits: 8,
            spread_px: 0.65,
            noise_grey: 2.0,
            shot_share: 0.7,
            instants: 4,
            subpixels: 3,
            sky_grey: 118.0,
            ground_grey: 96.0,
            horizon_m: None,
            texture_grey: 26.0,
            grain_px: 14.0,
            gradient_grey: 12.0,
            light_grey: 205.0,
            dark_grey: 42.0,
        }
    }
}

/// The flash that marks time zero.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Flash {
    /// From contact to the flash, s.
    pub delay_s: f64,
    /// Added brightness of the whole picture when it fires, as a share; 0 for no flash.
    pub gain: f64,
    /// Time in which the added brightness falls to 1/e, s.
    pub decay_s: f64,
    /// Where the bulb is seen: camera, x and second axis in the board plane, m.
    pub bulbs: Vec<(String, f64, f64)>,
    /// Radius of the saturated bulb, m.
    pub bulb_radius_m: f64,
}

impl Default for Flash {
    fn default() -> Self {
        Self { delay_s: 0.0, gain: 0.35, decay_s: 0.003, bulbs: Vec::new(), bulb_radius_m: 0.1 }
    }
}
