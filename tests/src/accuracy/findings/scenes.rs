//! The rehearsals: the sample scene with other speeds, masses, forces and drags for every seed, in six kinds.

use super::chain::Draw;
use filmgauge_proving::{Aside, BodyName, Scene, Tether};
use filmgauge_quantities::ViewPlane;

/// Kind of a rehearsal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The bodies part again.
    Parts,
    /// Nothing is given back: the force ends at once and the bodies go on as one.
    Stays,
    /// A heavy drag and a long film: the truck comes to rest in view.
    Rests,
    /// Strong lift and little damping: the car ramps, then dives.
    Ramps,
    /// The car strikes with a third of its front beside the middle, and turns.
    Offset,
    /// It comes at ten degrees, and ramps.
    Angled,
}

impl Kind {
    /// Kinds take turns by seed.
    #[must_use]
    pub fn of(seed: u64) -> Self {
        let kinds = [Self::Rests, Self::Ramps, Self::Offset, Self::Angled, Self::Parts, Self::Stays];
        kinds[usize::try_from(seed % 6).unwrap_or(0)]
    }
}

/// The scene of a seed.
#[must_use]
pub fn varied(sample: &Scene, seed: u64) -> (Kind, Scene) {
    let (kind, mut draw, mut scene) = (Kind::of(seed), Draw::new(seed, 1), sample.clone());
    scene.seed = seed;
    scene.channels.clear();
    scene.dust.clear();
    scene.car.speed_km_h = draw.between(40.0, 62.0);
    scene.car.mass_kg = draw.between(900.0, 1500.0);
    scene.truck.mass_kg = draw.between(7000.0, 12000.0);
    scene.truck.drag = draw.between(0.2, 0.4);
    scene.cushion.plateau_n = draw.between(80e3, 120e3);
    scene.car.rolling_drag = draw.between(0.005, 0.045);
    match kind {
        Kind::Parts | Kind::Rests => {}
        Kind::Offset => scene.car.aside = Some(aside(&mut draw, 0.0)),
        Kind::Stays => {
            scene.cushion.unloading_n_per_m = None;
            if let Some(front) = &mut scene.front {
                front.unloading_n_per_m = None;
            }
        }
        Kind::Ramps | Kind::Angled => {
            if kind == Kind::Angled {
                scene.car.aside = Some(aside(&mut draw, 10.0));
            }
            scene.car.lift_share = draw.between(0.10, 0.16);
            scene.car.pitch_arm_m = draw.between(0.06, 0.10);
            scene.car.pitch_damping = 0.05;
            scene.after_s = 0.75;
        }
    }
    if kind == Kind::Rests {
        scene.truck.drag = draw.between(0.5, 0.7);
        scene.after_s = 0.9;
    }
    (kind, scene)
}

/// A truck that rolls ahead out of the side camera's picture, all its targets with it, and comes back on a tether.
#[must_use]
pub fn leaving(sample: &Scene, seed: u64) -> Scene {
    let (mut draw, mut scene) = (Draw::new(seed, 3), sample.clone());
    scene.seed = seed;
    scene.channels.clear();
    scene.dust.clear();
    scene.after_s = 1.4;
    scene.car.speed_km_h = draw.between(52.0, 60.0);
    scene.car.mass_kg = draw.between(1300.0, 1500.0);
    scene.truck.mass_kg = draw.between(7000.0, 8000.0);
    scene.truck.drag = draw.between(0.03, 0.05);
    scene.truck.tether = Some(Tether { slack_m: 0.5, n_per_m: draw.between(80e3, 120e3) });
    let of_truck = |target: &&mut filmgauge_proving::TargetPaint| {
        target.body == BodyName::Truck && target.camera == "side"
    };
    // Close together at its rear end, within 0.35 m of the edge of the picture.
    for (target, ahead_m) in scene.targets.iter_mut().filter(of_truck).zip([0.0, 0.1, 0.3, 0.35]) {
        target.at_m[0] = -2.65 + ahead_m;
    }
    for camera in scene.cameras.iter_mut().filter(|camera| camera.view == ViewPlane::Side) {
        camera.axis_m[0] = -2.3;
    }
    scene
}

/// To either side, the force a hand's breadth nearer to the truck's middle than the car.
fn aside(draw: &mut Draw, heading_deg: f64) -> Aside {
    let side = if draw.between(-1.0, 1.0) < 0.0 { -1.0 } else { 1.0 };
    let left_m = side * draw.between(0.3, 0.5);
    Aside {
        heading_deg: -side * heading_deg,
        left_m,
        force_left_m: left_m - side * draw.between(0.05, 0.15),
        yaw_inertia_kg_m2: draw.between(1500.0, 2000.0),
        friction: draw.between(0.1, 0.3),
        tyres_per_s: 6.0,
    }
}
