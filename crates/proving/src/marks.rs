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
///
/// An interlaced camera has a mark for every field: `frame` then counts fields in order of exposure, and `y_px` is still
/// the row in the whole stored frame. With a rolling shutter a mark's time is that of its own row.
#[must_use]
pub fn truth_marks(scene: &Scene, truth: &Truth, camera_index: usize) -> Vec<TruthMark> {
    let Ok(camera) = scene.camera(camera_index) else { return Vec::new() };
    let clock = FrameClock::new(scene, camera, camera_index);
    let looks = looks(scene, truth, camera, camera_index, &clock);
    let mut marks = Vec::new();
    for target in scene.targets_of(&camera.id) {
        for look in &looks {
            marks.push(seen(scene, truth, camera, target, look));
        }
    }
    marks
}

/// One frame, or one field of it, as the camera looked.
struct Look {
    frame: u32,
    mid_s: f64,
    view: View,
    haze: Haze,
}

fn looks(scene: &Scene, truth: &Truth, camera: &CameraSetup, index: usize, clock: &FrameClock) -> Vec<Look> {
    let view = View::new(scene, camera);
    let per_frame = 1 + u32::from(clock.fields.is_some());
    let look = |frame: u32, mid_s: f64, field: u32| Look {
        frame: frame * per_frame + field,
        mid_s,
        view: view
            .of_exposure((scene, camera, index), clock.exposure(frame), mid_s)
            .unwrap_or_else(|| view.clone()),
        haze: Haze::new(scene, &camera.id, truth, mid_s),
    };
    (0..clock.n_frames)
        .flat_map(|frame| {
            let second = clock.second_field_s(frame).map(|mid_s| look(frame, mid_s, 1));
            std::iter::once(look(frame, clock.mid_s(frame), 0)).chain(second)
        })
        .collect()
}

fn seen(scene: &Scene, truth: &Truth, camera: &CameraSetup, target: &TargetPaint, look: &Look) -> TruthMark {
    let (view, haze) = (&look.view, &look.haze);
    let placed = if camera.row_time_s > 0.0 {
        Placed::rolling(view, target, truth, look.mid_s, camera.row_time_s)
    } else {
        Placed::target(view, target, &truth.at(look.mid_s))
    };
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
        frame: look.frame,
        time_s: look.mid_s + placed.centre.y * camera.row_time_s,
        x_px: placed.centre.x,
        y_px: placed.centre.y,
        radius_px: placed.radius_px(),
        cover,
        visible: inside && !occluded && cover < HIDDEN_COVER,
    }
}
