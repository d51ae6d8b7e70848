//! The truth about a camera's film: when every stored frame was exposed, how it weaves, what lamp and scan did.

use crate::clock::FrameClock;
use crate::flaws::{Flaw, flaws, level};
use crate::lamp::{LampPulse, pulses};
use crate::scene::{CameraSetup, FieldOrder, Scene};
use crate::weave::{Weave, middle};
use filmgauge_quantities::PixelPoint;
use serde::Serialize;

/// The truth about one camera's film. Times are seconds from time zero.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FilmTruth {
    /// Camera id.
    pub camera: String,
    /// When the flash fires: time zero.
    pub flash_s: f64,
    /// First touch.
    pub contact_s: f64,
    /// Length of each row's exposure, s.
    pub exposure_s: f64,
    /// From the exposure of one row to that of the next, s; 0 for a shutter that opens all rows at once.
    pub row_time_s: f64,
    /// The rows exposed first; none for whole frames.
    pub fields: Option<FieldOrder>,
    /// The lamp's pulses that touch the film's time.
    pub lamp: Vec<LampPulse>,
    /// Exposures that were not stored, in order.
    pub dropped: Vec<u32>,
    /// Exposures that were stored twice, in order.
    pub doubled: Vec<u32>,
    /// What weave turns about: the middle of the picture, px.
    pub middle: PixelPoint,
    /// Every stored frame.
    pub frames: Vec<FrameTruth>,
}

/// The truth about one stored frame.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FrameTruth {
    /// Frame number.
    pub frame: u32,
    /// Number of the exposure that it holds.
    pub exposure: u32,
    /// Mid-exposure of row 0, seconds from time zero; row r follows `r row_time_s` later.
    pub mid_s: f64,
    /// Mid-exposure of the second field, as of row 0; none for whole frames.
    pub second_field_s: Option<f64>,
    /// Film speed here: 1 over the time to the next exposure, frames per second.
    pub frames_per_s: f64,
    /// Shift of the picture to the right, px.
    pub weave_dx_px: f64,
    /// Shift of the picture downwards, px.
    pub weave_dy_px: f64,
    /// Turn of the picture about its middle, from x towards y, rad.
    pub weave_turn_rad: f64,
    /// Brightness over the usual one.
    pub level: f64,
    /// Specks and scratches.
    pub flaws: Vec<Flaw>,
}

impl FrameTruth {
    /// Where a place of the film lies in this stored frame: turned about `middle`, then shifted.
    #[must_use]
    pub fn stored_from_film(&self, at: PixelPoint, middle: PixelPoint) -> PixelPoint {
        let (sin, cos) = self.weave_turn_rad.sin_cos();
        let (x, y) = (at.x - middle.x, at.y - middle.y);
        middle.moved(self.weave_dx_px + x * cos - y * sin, self.weave_dy_px + x * sin + y * cos)
    }
}

/// The truth about a camera's film.
///
/// # Errors
/// [`crate::ProvingError::NoCamera`] for a camera that the scene does not have.
pub fn film_truth(scene: &Scene, camera_index: usize) -> Result<FilmTruth, crate::ProvingError> {
    let camera = scene.camera(camera_index)?;
    let clock = FrameClock::new(scene, camera, camera_index);
    let frames: Vec<FrameTruth> =
        (0..clock.n_frames).map(|frame| frame_truth(scene, camera, camera_index, &clock, frame)).collect();
    Ok(FilmTruth {
        camera: camera.id.clone(),
        flash_s: 0.0,
        contact_s: -scene.flash.delay_s,
        exposure_s: camera.exposure_s,
        row_time_s: camera.row_time_s,
        fields: camera.fields,
        lamp: lamp_pulses(camera, &clock, &frames),
        dropped: in_order(&camera.dropped),
        doubled: in_order(&camera.doubled),
        middle: middle(camera),
        frames,
    })
}

/// The truth about all films as JSON, one entry per camera; none where no camera has anything but a plain film.
#[must_use]
pub fn film_truth_json(scene: &Scene) -> Option<serde_json::Value> {
    if !scene.cameras.iter().any(CameraSetup::has_film_keys) {
        return None;
    }
    let films: Vec<FilmTruth> =
        (0..scene.cameras.len()).filter_map(|index| film_truth(scene, index).ok()).collect();
    serde_json::to_value(films).ok()
}

fn frame_truth(
    scene: &Scene,
    camera: &CameraSetup,
    index: usize,
    clock: &FrameClock,
    frame: u32,
) -> FrameTruth {
    let exposure = clock.exposure(frame);
    let number = f64::from(exposure);
    let weave = Weave::drawn(scene, camera, index, exposure).unwrap_or_default();
    FrameTruth {
        frame,
        exposure,
        mid_s: clock.mid_s(frame),
        second_field_s: clock.second_field_s(frame),
        frames_per_s: 1.0 / (clock.exposed_s(number + 1.0) - clock.exposed_s(number)),
        weave_dx_px: weave.dx_px,
        weave_dy_px: weave.dy_px,
        weave_turn_rad: weave.turn_rad,
        level: level(scene, camera, index, exposure).unwrap_or(1.0),
        flaws: flaws(scene, camera, index, exposure),
    }
}

/// Pulses within a frame of any exposure that was stored, the lamp's displacement included.
fn lamp_pulses(camera: &CameraSetup, clock: &FrameClock, frames: &[FrameTruth]) -> Vec<LampPulse> {
    let (Some(lamp), Some(first), Some(last)) = (&camera.lamp, frames.first(), frames.last()) else {
        return Vec::new();
    };
    let at = |exposure: u32, more: f64| clock.exposed_s(f64::from(exposure) + lamp.displaced_frames + more);
    pulses(lamp, at(first.exposure, -1.0), at(last.exposure, 2.0))
}

fn in_order(exposures: &[u32]) -> Vec<u32> {
    let unique: std::collections::BTreeSet<u32> = exposures.iter().copied().collect();
    unique.into_iter().collect()
}
