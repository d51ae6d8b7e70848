//! The rehearsals: the sample scene with other speeds, masses, forces and drags for every seed, in four kinds.

use super::chain::Draw;
use filmgauge_proving::Scene;

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
}

impl Kind {
    /// Kinds take turns by seed.
    #[must_use]
    pub fn of(seed: u64) -> Self {
        [Self::Parts, Self::Stays, Self::Rests, Self::Ramps][usize::try_from(seed % 4).unwrap_or(0)]
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
        Kind::Stays => {
            scene.cushion.unloading_n_per_m = None;
            if let Some(front) = &mut scene.front {
                front.unloading_n_per_m = None;
            }
        }
        Kind::Ramps => {
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
