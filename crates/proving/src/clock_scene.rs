//! A small scene for rehearsing clocks and scans, and its film in memory: lamp, flash, moving target, film holes.

use crate::dynamics::simulate;
use crate::film_truth::{FilmTruth, film_truth};
use crate::marks::{TruthMark, truth_marks};
use crate::proof::{camera, proof_scene};
use crate::render::Renderer;
use crate::scene::{BodyName, CameraSetup, Cushion, Flash, Lamp, Perforation, Picture, Scene, TargetPaint};
use crate::{ProvingError, Truth};
use filmgauge_geometry::Lens;
use filmgauge_quantities::{GreyImage, TargetKind};

/// A film in memory with the truth about it.
#[derive(Debug, Clone)]
pub struct ClockFilm {
    /// The stored frames, in order.
    pub frames: Vec<GreyImage>,
    /// When each was exposed, how it weaves, what lamp and scan did.
    pub truth: FilmTruth,
    /// The targets' true marks.
    pub marks: Vec<TruthMark>,
    /// The solved motion.
    pub motion: Truth,
}

/// A small scene for clocks: `n_cameras` side cameras of 160 x 96 px at 1000 frames/s with 0.5 ms exposure.
///
/// In view: a lamp of 100 Hz (top right), the flash, the car's target `C1` which strikes at contact and slows down,
/// ground targets `G1` and `G2` and, left and right, the film holes (12 x 16 px). Film from 30 ms before contact to
/// 60 ms after. Change the cameras' `film`, `clock`, `lamp`, `weave`, `scan`, `dropped`, `doubled`, `fields` and
/// `row_time_s` before rendering; the clocks' phases are drawn from `seed`.
#[must_use]
pub fn clock_scene(seed: u64, n_cameras: usize) -> Scene {
    let cameras: Vec<CameraSetup> = (0..n_cameras).map(|index| clock_camera(&format!("c{index}"))).collect();
    let targets = cameras.iter().flat_map(|camera| targets(&camera.id)).collect();
    let proof = proof_scene();
    let bulbs = cameras.iter().map(|camera| (camera.id.clone(), -0.6, 0.9)).collect();
    Scene {
        id: "clock".to_owned(),
        title: "Clock rehearsal".to_owned(),
        seed,
        before_s: 0.030,
        after_s: 0.060,
        car: crate::scene::Car { speed_km_h: 36.0, ..proof.car.clone() },
        cushion: Cushion { plateau_n: 2.0e5, rise_m: 0.05, length_m: 2.0, ..proof.cushion.clone() },
        flash: Flash { bulbs, bulb_radius_m: 0.03, ..Flash::default() },
        cameras,
        targets,
        ..proof
    }
}

/// Renders one camera's whole film into memory.
///
/// # Errors
/// Those of [`Scene::check`], [`simulate`] and [`Renderer::new`].
pub fn clock_film(scene: &Scene, camera_index: usize) -> Result<ClockFilm, ProvingError> {
    scene.check()?;
    let motion = simulate(scene)?;
    let renderer = Renderer::new(scene, &motion, camera_index)?;
    let frames = (0..renderer.n_frames()).map(|frame| renderer.frame(frame)).collect();
    let truth = film_truth(scene, camera_index)?;
    let marks = truth_marks(scene, &motion, camera_index);
    Ok(ClockFilm { frames, truth, marks, motion })
}

/// One pixel is 10 mm in the board plane; the board lies out of view.
fn clock_camera(id: &str) -> CameraSetup {
    let hole = |left: f64| Perforation { at_px: [left, 39.3], size_px: [12.4, 16.6], grey: 225.0 };
    CameraSetup {
        id: id.to_owned(),
        width_px: 160,
        height_px: 96,
        exposure_s: 0.0005,
        axis_m: [-0.85, 0.5],
        lens: Lens::pinhole(1000.0, 79.5, 47.5),
        picture: Picture {
            bits: 8,
            noise_grey: 2.0,
            texture_grey: 8.0,
            sky_grey: 100.0,
            ground_grey: 100.0,
            gradient_grey: 0.0,
            instants: 2,
            subpixels: 2,
            ..Picture::default()
        },
        lamp: Some(Lamp {
            at_px: [120.0, 6.0],
            size_px: [14.0, 14.0],
            frequency_hz: 100.0,
            duty: 0.5,
            phase_s: 0.0,
            off_grey: 35.0,
            on_grey: 215.0,
            displaced_frames: 0.0,
            running: false,
        }),
        perforations: vec![hole(5.2), hole(141.9)],
        ..camera()
    }
}

fn targets(camera: &str) -> [TargetPaint; 3] {
    let target = |id: &str, body: BodyName, at_m: [f64; 2]| TargetPaint {
        camera: camera.to_owned(),
        id: id.to_owned(),
        kind: TargetKind::Quadrant,
        body,
        at_m,
        plane_offset_m: 0.0,
        radius_m: 0.07,
        turn_deg: 5.0,
        crush_share: 0.0,
    };
    [
        target("C1", BodyName::Car, [0.0, 0.1]),
        target("G1", BodyName::Ground, [-1.35, 0.22]),
        target("G2", BodyName::Ground, [-0.35, 0.2]),
    ]
}
