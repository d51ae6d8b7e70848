//! The form of `dossier.toml`: inputs and decisions of one test, as people write them.
//! Plain data; what it means together is checked in [`crate::plan`].

mod body;
mod camera;
mod channel;
mod clock;
mod instant;
mod profile;
mod reference;
mod space;
mod target;

pub use body::{BodyEntry, CgFrom, MiddleFrom, Role};
pub use camera::CameraEntry;
pub use channel::{AxisEntry, ChannelEntry, StepEntry};
pub use clock::{
    FieldsEntry, MarksEntry, MarksKind, PointEntry, SpeedEntry, SteadyEntry, SwitchEntry, TieEntry, ZeroEntry,
};
pub use instant::{EventEntry, GapEntry};
pub use profile::{ProfileEntry, StiffnessEntry};
pub use reference::{
    BoardEntry, DepthFromEntry, InclinedEntry, LengthEntry, LengthPurpose, PlaneEntry, PlanePointEntry,
    PoseEntry, READING_U_PX, SpacePointEntry,
};
pub use space::{CentreEntry, SpaceEntry};
pub use target::{CrushEntry, StartEntry, TargetEntry};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The schema number this version reads and writes.
pub const SCHEMA: u32 = 1;

/// One test's dossier.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Document {
    /// Number of the form's version; 1.
    pub schema: u32,
    /// The test.
    pub test: TestEntry,
    /// Cameras.
    #[serde(default)]
    pub camera: Vec<CameraEntry>,
    /// Targets, camera by camera.
    #[serde(default)]
    pub target: Vec<TargetEntry>,
    /// Rigid bodies.
    #[serde(default)]
    pub body: Vec<BodyEntry>,
    /// Sensor channels.
    #[serde(default)]
    pub channel: Vec<ChannelEntry>,
    /// Crush lines: a target in the crush zone against its body.
    #[serde(default)]
    pub crush: Vec<CrushEntry>,
    /// Crush profiles of six depths.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub crush_profile: Vec<ProfileEntry>,
    /// Places that two cameras followed, to check their clocks against each other.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tie: Vec<TieEntry>,
    /// Stretches in which the analyst does not trust the marks of a target.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub gap: Vec<GapEntry>,
    /// Instants named by hand.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub event: Vec<EventEntry>,
    /// Cameras that together tell places in space.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub space: Option<SpaceEntry>,
    /// Side cameras on both sides of a vehicle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub centre: Option<CentreEntry>,
}

/// The test's own lines.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TestEntry {
    /// Short id, as it stands on the sheet.
    pub id: String,
    /// Title.
    pub title: String,
    /// Axis system of the channels' signs: `iso8855` (z up) or `sae_j1733` (z down).
    #[serde(default)]
    pub axes: Axes,
    /// Units on the sheet: `si` or `us`. Files stay SI.
    #[serde(default)]
    pub units: Units,
    /// Free text, shown on the sheet.
    #[serde(default)]
    pub comment: String,
    /// What counts as contact: the kink in the film's own motion, or time zero where the contact switch fires the
    /// flash or starts the clock.
    #[serde(default)]
    pub contact: ContactBy,
    /// Switch recorded with the sensors whose closing is time zero of their records; their own zero when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub switch: Option<SwitchEntry>,
    /// Whether film and the striking body's forward channel are also given as one fused motion; no when left out.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub fused: bool,
    /// Other means by which motion along the path is drawn beside the smoothing spline, to be compared; none when left out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub beside: Vec<BesideMethod>,
    /// Target of the striking body whose rise is reported; its c.g. when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub climb_point: Option<String>,
    /// Folder of the lab's own template of the sheet, relative to the dossier; the built-in one when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub template: Option<String>,
    /// Instants of the picture strip, milliseconds after contact.
    #[serde(default = "strip_instants_ms")]
    pub strip_ms: Vec<f64>,
}

fn strip_instants_ms() -> Vec<f64> {
    vec![-20.0, 0.0, 50.0, 100.0, 200.0]
}

/// Another means of differentiating places, drawn beside the smoothing spline.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum BesideMethod {
    /// Zero-phase Butterworth of second order each way, its cut-off from the residuals.
    Butterworth,
    /// A cubic fitted over 10 ms to either side.
    SavitzkyGolay,
    /// The smoothing spline with the marks' stated noise taken as true, in place of cross-validation.
    StatedNoise,
}

impl BesideMethod {
    /// As the dossier writes it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Butterworth => "butterworth",
            Self::SavitzkyGolay => "savitzky_golay",
            Self::StatedNoise => "stated_noise",
        }
    }
}

/// Axis system that the channels' signs follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
pub enum Axes {
    /// x forward, y left, z up.
    #[default]
    #[serde(rename = "iso8855")]
    Iso8855,
    /// x forward, y right, z down.
    #[serde(rename = "sae_j1733")]
    SaeJ1733,
}

impl Axes {
    /// The word used in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Iso8855 => "iso8855",
            Self::SaeJ1733 => "sae_j1733",
        }
    }

    /// +1 when z and y keep the sign used inside (z up, y left), -1 when they turn.
    #[must_use]
    pub fn upward_sign(self) -> f64 {
        match self {
            Self::Iso8855 => 1.0,
            Self::SaeJ1733 => -1.0,
        }
    }
}

/// What counts as contact.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum ContactBy {
    /// The kink in the striking body's run-up.
    #[default]
    Film,
    /// Time zero.
    Zero,
}

/// Units on the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// Metre, metre per second, degree, g.
    #[default]
    Si,
    /// Foot, inch, mile per hour, degree, g.
    Us,
}

/// The JSON Schema of `dossier.toml`, as published in `docs/dossier.schema.json`.
#[must_use]
pub fn json_schema() -> serde_json::Value {
    schemars::schema_for!(Document).to_value()
}
