//! The true marks: every target's centre in every frame, and whether it can be seen.

use crate::clock::FrameClock;
use crate::dynamics::Truth;
use crate::placing::Placed;
use crate::render::{Haze, is_occluded};
use crate::scene::{CameraSetup, Scene, TargetPaint};
use crate::view::{View, size};
use filmgauge_quantities::PixelPoint;

/// Share of a target's light lost to dust beyond which it counts as hidden.
const HIDDEN_COVER: f64 = 0.5;

/// The true mark of one target in one frame.
#[derive(Debug, Clone, PartialEq)]
pub struct TruthMark {
    /// Camera id.
    pub camera: String,
    /// Target id.
    pub target: String,
    /// Frame number.
    pub frame: u32,
    /// Mid-exposure, seconds from time zero.
    pub time_s: f64,
    /// Column of the centre at mid-exposure, stored px.
    pub x_px: f64,
    /// Row of the centre at mid-exposure, stored px.
    pub y_px: f64,
    /// Mean radius, px.
    pub radius_px: f64,
    /// Greatest share of light lost to dust over centre and rim, 0 to 1.
    pub cover: f64,
    /// Wholly inside the picture, not occluded, and less than half covered by dust.
    pub visible: bool,
}

/// The true marks of one camera, by target and frame; none for a camera that the scene does not have.
#[must_use]
pub fn truth_marks(scene: &Scene, truth: &Truth, camera_index: usize) -> Vec<TruthMark> {
    let Ok(camera) = scene.camera(camera_index) else { return Vec::new() };
    let view = View::new(scene, camera);
    let clock = FrameClock::new(scene, camera, camera_index);
    let hazes: Vec<Haze> =
        (0..clock.n_frames).map(|n| Haze::new(scene, &camera.id, truth, clock.mid_s(n))).collect();
    let mut marks = Vec::new();
    for target in scene.targets_of(&camera.id) {
        for (frame, haze) in (0..clock.n_frames).zip(&hazes) {
            let time_s = clock.mid_s(frame);
            let placed = Placed::target(&view, target, &truth.at(time_s));
            marks.push(seen(scene, camera, &view, target, placed, haze, (frame, time_s)));
        }
    }
    marks
}

fn seen(
    scene: &Scene,
    camera: &CameraSetup,
    view: &View,
    target: &TargetPaint,
    placed: Placed,
    haze: &Haze,
    (frame, time_s): (u32, f64),
) -> TruthMark {
    let spots: Vec<PixelPoint> = std::iter::once(placed.centre).chain(placed.rim()).collect();
    let inside = spots.iter().all(|spot| {
        spot.x >= 0.0
            && spot.y >= 0.0
            && spot.x <= size(camera.width_px) - 1.0
            && spot.y <= size(camera.height_px) - 1.0
    });
    let cover = spots
        .iter()
        .filter_map(|spot| view.ray(*spot).ok())
        .map(|ray| haze.cover(view.on_plane(ray, 0.0)))
        .fold(0.0, f64::max);
    let occluded = inside && spots.iter().any(|spot| is_occluded(scene, &camera.id, view, *spot));
    TruthMark {
        camera: camera.id.clone(),
        target: target.id.clone(),
        frame,
        time_s,
        x_px: placed.centre.x,
        y_px: placed.centre.y,
        radius_px: placed.radius_px(),
        cover,
        visible: inside && !occluded && cover < HIDDEN_COVER,
    }
}
