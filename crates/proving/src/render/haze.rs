//! Dust and things in the way: how much of a place is covered.

use crate::dynamics::Truth;
use crate::scene::{Dust, Occluder, Scene};
use crate::view::{Sighted, View};
use filmgauge_quantities::PixelPoint;

/// Grey of dust, grey levels of 8 bits.
pub(super) const DUST_GREY: f32 = 150.0;

/// The dust of one camera at one instant, ready to be asked place by place.
#[derive(Debug, Clone)]
pub(crate) struct Haze {
    puffs: Vec<Puff>,
}

#[derive(Debug, Clone, Copy)]
struct Puff {
    at_m: [f64; 2],
    radius_m: f64,
    depth: f64,
}

impl Haze {
    /// The dust as it is at `t_s` seconds from time zero.
    pub(crate) fn new(scene: &Scene, camera_id: &str, truth: &Truth, t_s: f64) -> Self {
        let after_contact_s = t_s - truth.contact_s;
        let seen = scene.dust.iter().filter(|dust| dust.camera == camera_id);
        Self { puffs: seen.filter_map(|dust| puff(dust, after_contact_s - dust.birth_s)).collect() }
    }

    /// Whether there is none.
    pub(super) fn is_clear(&self) -> bool {
        self.puffs.is_empty()
    }

    /// Share of the light from behind that is lost at a place of the board plane, 0 to 1.
    pub(crate) fn cover(&self, at_m: [f64; 2]) -> f64 {
        let depth: f64 = self
            .puffs
            .iter()
            .map(|puff| {
                let away2 = (at_m[0] - puff.at_m[0]).powi(2) + (at_m[1] - puff.at_m[1]).powi(2);
                puff.depth * (-away2 / (puff.radius_m * puff.radius_m)).exp()
            })
            .sum();
        -(-depth).exp_m1()
    }
}

fn puff(dust: &Dust, age_s: f64) -> Option<Puff> {
    (age_s > 0.0).then(|| Puff {
        at_m: [dust.at_m[0] + dust.drift_m_s[0] * age_s, dust.at_m[1] + dust.drift_m_s[1] * age_s],
        radius_m: dust.radius_m + dust.growth_m_s * age_s,
        depth: dust.depth * -(-age_s / dust.rise_s).exp_m1() * (-age_s / dust.life_s).exp(),
    })
}

/// Corners of an occluder in the picture's plane of rays: slopes low right, low up, high right, high up.
pub(crate) fn occluder_rays(view: &View, thing: &Occluder) -> Option<[f64; 4]> {
    let corner = |at: [f64; 2]| {
        view.ray(view.pixel(Sighted { x_m: at[0], second_m: at[1], offset_m: thing.plane_offset_m })).ok()
    };
    let (a, b) = (corner(thing.from_m)?, corner(thing.to_m)?);
    Some([a[0].min(b[0]), a[1].min(b[1]), a[0].max(b[0]), a[1].max(b[1])])
}

/// Whether an occluder of one camera stands before a pixel.
pub(crate) fn is_occluded(scene: &Scene, camera_id: &str, view: &View, pixel: PixelPoint) -> bool {
    let Ok(ray) = view.ray(pixel) else { return false };
    scene.occluders.iter().filter(|thing| thing.camera == camera_id).any(|thing| {
        occluder_rays(view, thing).is_some_and(|[left, low, right, high]| {
            ray[0] >= left && ray[0] <= right && ray[1] >= low && ray[1] <= high
        })
    })
}
