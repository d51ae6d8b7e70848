//! The car, its front, the cushion and the truck, as the equations of motion need them.

use serde::{Deserialize, Serialize};

/// The striking car: motion along the path, heave and pitch; across the path and yaw where it comes at an angle or beside
/// the truck's middle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Car {
    /// Mass, kg.
    pub mass_kg: f64,
    /// Speed up to contact, km/h, held exactly.
    pub speed_km_h: f64,
    /// Height of the c.g. above the ground, m.
    pub cg_height_m: f64,
    /// From the c.g. forward to the nose, m.
    pub nose_m: f64,
    /// Moment of inertia about the pitch axis, kg m².
    pub pitch_inertia_kg_m2: f64,
    /// Lever of the crush force about the c.g., m; positive lifts the nose.
    #[serde(default)]
    pub pitch_arm_m: f64,
    /// Upward force on the car as a share of the crush force.
    #[serde(default)]
    pub lift_share: f64,
    /// Natural frequency of pitch on the springs, Hz; 0 for none.
    #[serde(default)]
    pub pitch_frequency_hz: f64,
    /// Damping ratio of pitch.
    #[serde(default)]
    pub pitch_damping: f64,
    /// Natural frequency of heave on the springs, Hz; 0 for none.
    #[serde(default)]
    pub heave_frequency_hz: f64,
    /// Damping ratio of heave.
    #[serde(default)]
    pub heave_damping: f64,
    /// Rolling drag after contact as a share of weight.
    #[serde(default)]
    pub rolling_drag: f64,
    /// How it comes beside the middle, or at an angle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub aside: Option<Aside>,
}

/// A car that does not come straight along the truck's middle line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Aside {
    /// Direction of its run-up to the path, to the left positive, degrees.
    #[serde(default)]
    pub heading_deg: f64,
    /// Its c.g. to the left of the truck's middle line at contact, m.
    #[serde(default)]
    pub left_m: f64,
    /// Where the crush force acts, to the left of that line, m.
    #[serde(default)]
    pub force_left_m: f64,
    /// Moment of inertia about the yaw axis, kg m².
    pub yaw_inertia_kg_m2: f64,
    /// Force against sliding sideways at the cushion, as a share of the crush force.
    #[serde(default)]
    pub friction: f64,
    /// How fast the tyres slow its turning and its sliding sideways, 1/s.
    #[serde(default)]
    pub tyres_per_s: f64,
}

/// The car's front as a spring that keeps most of its crush.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Front {
    /// Force per crush while it grows, N/m.
    pub loading_n_per_m: f64,
    /// Force per crush while it is given back, N/m; absent when nothing is given back.
    #[serde(default)]
    pub unloading_n_per_m: Option<f64>,
    /// Length of the zone that shortens, from the nose rearward, m.
    #[serde(default = "default_zone")]
    pub zone_m: f64,
}

fn default_zone() -> f64 {
    0.8
}

/// The cushion: a plateau with a smooth rise and hardening.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cushion {
    /// Length before the test, m.
    pub length_m: f64,
    /// Plateau force, N.
    pub plateau_n: f64,
    /// Stroke over which the plateau builds up by 1 - 1/e, m; 0 for a force that is there at once.
    #[serde(default)]
    pub rise_m: f64,
    /// Added force per stroke, N/m.
    #[serde(default)]
    pub hardening_n_per_m: f64,
    /// Force per stroke while it is given back, N/m; absent when nothing is given back.
    #[serde(default)]
    pub unloading_n_per_m: Option<f64>,
}

/// The struck truck: at rest until pushed, dragging braked wheels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Truck {
    /// Mass, kg.
    pub mass_kg: f64,
    /// Place of the c.g. along the path at contact, m.
    pub cg_x_m: f64,
    /// Height of the c.g. above the ground, m.
    pub cg_height_m: f64,
    /// Drag of the braked wheels as a share of the whole weight.
    pub drag: f64,
    /// An elastic line that pulls it back after some travel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tether: Option<Tether>,
}

/// An elastic line between the truck and the ground behind it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tether {
    /// Travel before it is taut, m.
    pub slack_m: f64,
    /// Pull per travel beyond that, N/m.
    pub n_per_m: f64,
}
