//! What can be seen: painted bodies, targets, dust and things in the way.

use filmgauge_quantities::TargetKind;
use serde::{Deserialize, Serialize};

/// A body of the scene.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum BodyName {
    /// The car; places are measured from its c.g.
    Car,
    /// The truck; places are measured from its c.g.
    Truck,
    /// The cushion; x from the truck's rear (0) back to the face (minus its length), second axis from the ground.
    Cushion,
    /// The ground; places in world axes.
    Ground,
}

impl BodyName {
    /// The id used in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Car => "car",
            Self::Truck => "truck",
            Self::Cushion => "cushion",
            Self::Ground => "ground",
        }
    }
}

/// One painted area of a body as one camera sees it; later ones cover earlier ones.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Paint {
    /// Camera that sees it.
    pub camera: String,
    /// Body that carries it.
    pub body: BodyName,
    /// Distance of its plane from the board plane towards the camera, m; the body's first paint decides.
    #[serde(default)]
    pub plane_offset_m: f64,
    /// Corners of a polygon in body axes, m.
    #[serde(default)]
    pub outline: Vec<[f64; 2]>,
    /// A disc instead of a polygon.
    #[serde(default)]
    pub disc: Option<DiscPaint>,
    /// Mean grey.
    pub grey: f64,
    /// Peak-to-peak texture, grey levels.
    #[serde(default)]
    pub texture_grey: f64,
    /// Grain of the texture, m.
    #[serde(default = "default_grain")]
    pub grain_m: f64,
}

fn default_grain() -> f64 {
    0.12
}

/// A painted disc, such as a wheel.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DiscPaint {
    /// Centre in body axes, m.
    pub at_m: [f64; 2],
    /// Radius, m.
    pub radius_m: f64,
}

/// One target as one camera sees it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TargetPaint {
    /// Camera that sees it.
    pub camera: String,
    /// Target id.
    pub id: String,
    /// What it looks like.
    pub kind: TargetKind,
    /// Body that carries it: car, truck or ground.
    pub body: BodyName,
    /// Place in body axes: x and second axis, m.
    pub at_m: [f64; 2],
    /// Distance of its plane from the board plane towards the camera, with the body level, m.
    pub plane_offset_m: f64,
    /// Radius of the whole target, m.
    pub radius_m: f64,
    /// Turn on its body, degrees.
    #[serde(default)]
    pub turn_deg: f64,
    /// How much of the nose's crush it follows: 0 for a rigid place, 1 at the nose.
    #[serde(default)]
    pub crush_share: f64,
}

/// One puff of dust: born at a time, drifting and growing, covering what is behind it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dust {
    /// Camera that sees it.
    pub camera: String,
    /// Birth, seconds after contact.
    pub birth_s: f64,
    /// Centre at birth in the board plane, m.
    pub at_m: [f64; 2],
    /// Drift, m/s.
    #[serde(default)]
    pub drift_m_s: [f64; 2],
    /// Radius at birth at which the cover falls to 1/e of its greatest, m.
    pub radius_m: f64,
    /// Growth of the radius, m/s.
    #[serde(default)]
    pub growth_m_s: f64,
    /// Greatest optical depth at its centre: 1 leaves 37 % of what is behind, 5 leaves 0.7 %.
    pub depth: f64,
    /// Time to build up, s.
    #[serde(default = "default_rise")]
    pub rise_s: f64,
    /// Time in which it thins to 1/e, s.
    pub life_s: f64,
}

fn default_rise() -> f64 {
    0.01
}

/// A thing that stands still between the camera and the vehicles: a rectangle in the board plane's axes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Occluder {
    /// Camera that sees it.
    pub camera: String,
    /// One corner, m.
    pub from_m: [f64; 2],
    /// The opposite corner, m.
    pub to_m: [f64; 2],
    /// Distance of its plane from the board plane towards the camera, m.
    pub plane_offset_m: f64,
    /// Grey.
    pub grey: f64,
}
