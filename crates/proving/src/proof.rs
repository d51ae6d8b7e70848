//! A small scene for proving the renderer itself: targets of every kind at rest, nothing behind them, no noise.

use crate::scene::{
    BoardSetup, BodyName, CameraSetup, Car, ClockSetting, Cushion, Flash, LensDoubt, Picture, Scene,
    TargetPaint, Truck,
};
use filmgauge_geometry::Lens;
use filmgauge_quantities::{TargetKind, ViewPlane};

/// Sixteen ground targets, four of each kind, at various sub-pixel places and turns, in a 480 x 480 px picture of
/// 16 bits: even background, no noise, no texture, no distortion. One frame, camera 0.
#[must_use]
pub fn proof_scene() -> Scene {
    Scene {
        id: "proof".to_owned(),
        title: "Renderer proof".to_owned(),
        seed: 1,
        before_s: 0.001,
        after_s: 0.001,
        climb_point: None,
        car: car(),
        front: None,
        cushion: Cushion {
            length_m: 1.0,
            plateau_n: 1e5,
            rise_m: 0.0,
            hardening_n_per_m: 0.0,
            unloading_n_per_m: None,
        },
        truck: Truck { mass_kg: 9000.0, cg_x_m: 5.0, cg_height_m: 1.0, drag: 0.0, tether: None },
        flash: Flash { gain: 0.0, ..Flash::default() },
        cameras: vec![camera()],
        paints: Vec::new(),
        targets: targets(),
        dust: Vec::new(),
        occluders: Vec::new(),
        channels: Vec::new(),
    }
}

fn car() -> Car {
    Car {
        mass_kg: 1000.0,
        speed_km_h: 1.0,
        cg_height_m: 0.5,
        nose_m: 1.0,
        pitch_inertia_kg_m2: 1500.0,
        pitch_arm_m: 0.0,
        lift_share: 0.0,
        pitch_frequency_hz: 0.0,
        pitch_damping: 0.0,
        heave_frequency_hz: 0.0,
        heave_damping: 0.0,
        rolling_drag: 0.0,
        aside: None,
    }
}

/// One pixel is 10 mm in the board plane; the board lies out of view.
pub(crate) fn camera() -> CameraSetup {
    CameraSetup {
        id: "proof".to_owned(),
        view: ViewPlane::Side,
        width_px: 480,
        height_px: 480,
        frames_per_s: 1000.0,
        speed_relative_u: 0.0,
        exposure_s: 0.0,
        distance_m: 10.0,
        distance_u_m: 0.0,
        axis_m: [0.0, 0.0],
        plane_height_m: 0.0,
        roll_deg: 0.0,
        lens: Lens::pinhole(1000.0, 239.5, 239.5),
        lens_u: LensDoubt::default(),
        offset_u_m: [0.0; 3],
        board: BoardSetup {
            from_m: [0.0, 50.0],
            length_m: 2.0,
            length_u_m: 0.0,
            mark_radius_m: 0.1,
            reading_u_px: 0.0,
        },
        picture: Picture {
            bits: 16,
            noise_grey: 0.0,
            texture_grey: 0.0,
            gradient_grey: 0.0,
            sky_grey: 120.0,
            ground_grey: 120.0,
            instants: 1,
            subpixels: 4,
            ..Picture::default()
        },
        film: None,
        clock: ClockSetting::default(),
        lamp: None,
        weave: None,
        shake: None,
        perforations: Vec::new(),
        scan: None,
        dropped: Vec::new(),
        doubled: Vec::new(),
        fields: None,
        row_time_s: 0.0,
    }
}

fn targets() -> Vec<TargetPaint> {
    let kinds = [TargetKind::Quadrant, TargetKind::Disc, TargetKind::Ring, TargetKind::Cross];
    let mut targets = Vec::new();
    for (row, kind) in kinds.into_iter().enumerate() {
        for column in 0..4_u8 {
            let (i, j) = (f64::from(column), f64::from(u8::try_from(row).unwrap_or(0)));
            targets.push(TargetPaint {
                camera: "proof".to_owned(),
                id: format!("{}-{column}", kind.word()),
                kind,
                body: BodyName::Ground,
                // Sub-pixel places spread over the pixel, and turns spread over the quarter circle.
                at_m: [
                    -1.8 + 1.2 * i + 0.01 * (0.13 + 0.27 * i),
                    1.8 - 1.2 * j - 0.01 * (0.41 + 0.19 * i + 0.07 * j),
                ],
                plane_offset_m: 0.0,
                radius_m: 0.18 - 0.02 * i,
                turn_deg: 7.0 + 23.0 * i,
                crush_share: 0.0,
            });
        }
    }
    targets
}
