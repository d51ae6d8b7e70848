//! Clock lines of the dossier: film speed and its evidence, time zero, fields, steadying, ties between clocks.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Film speed with its source. Without timing marks or clock points the figure itself is used; with them the film's clock
/// is fitted to them, and the figure is the record that they are checked against.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SpeedEntry {
    /// True frames per second; never the container's playback rate.
    pub frames_per_s: f64,
    /// Where the figure comes from, such as "camera record".
    pub source: String,
    /// Standard uncertainty divided by the value.
    #[serde(default)]
    pub relative_uncertainty: f64,
    /// Timing marks on the film.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub marks: Option<MarksEntry>,
    /// Frames whose times are known otherwise, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub points: Vec<PointEntry>,
}

/// Timing marks of a lamp of known frequency.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MarksEntry {
    /// `lamp`: a lamp in view, whose brightness tells; `spots`: light spots along the film's edge.
    pub kind: MarksKind,
    /// Left, top, width and height of the region that holds them, px.
    pub region_px: [u32; 4],
    /// Marks a second.
    pub frequency_hz: f64,
    /// Standard uncertainty of the frequency divided by it.
    #[serde(default)]
    pub relative_uncertainty: f64,
    /// Frames to add to a mark's place: the lamp sits this many frames away from the gate.
    #[serde(default)]
    pub lamp_to_gate_frames: f64,
    /// Spots only: distance from a frame to the next along the film, px.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pitch_px: Option<f64>,
    /// Spots only: whether the film exposed later lies further down.
    #[serde(default)]
    pub later_downwards: bool,
}

/// Kind of timing marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum MarksKind {
    /// A lamp in view.
    Lamp,
    /// Light spots along the film's edge.
    Spots,
}

/// A frame whose time is known.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PointEntry {
    /// Frame; a whole number is a mid-exposure, a fraction lies between frames.
    pub frame: f64,
    /// Its time on any clock, s.
    pub time_s: f64,
    /// Standard uncertainty of the time, s.
    pub uncertainty_s: f64,
}

/// Where time zero lies.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "by", rename_all = "lowercase", deny_unknown_fields)]
pub enum ZeroEntry {
    /// The flash seen in the film, timed by the brightness of the frames about it.
    Flash {
        /// Left, top, width and height of the region that shows it, px; the whole picture when left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        region_px: Option<[u32; 4]>,
        /// Time constant of the lamp's rise, s; 0 for one that is much shorter than an exposure.
        #[serde(default)]
        rise_s: f64,
        /// From the instant wanted to first light, s.
        #[serde(default)]
        delay_s: f64,
        /// Standard uncertainty of the delay, s.
        #[serde(default)]
        delay_uncertainty_s: f64,
    },
    /// Mid-exposure of the given frame; a fraction lies between frames.
    Frame {
        /// Frame number.
        frame: f64,
        /// Standard uncertainty, s; half a frame interval, evenly spread, when left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        uncertainty_s: Option<f64>,
    },
    /// First contact as found in the film's own motion.
    Contact {},
    /// Another camera's time zero, carried over by the motion of a place that both followed.
    Camera {
        /// The other camera.
        camera: String,
        /// Its target.
        theirs: String,
        /// This camera's target on the same place of the same body.
        ours: String,
    },
}

/// Which field of interlaced film was exposed first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FieldsEntry {
    /// Rows 0, 2, 4 …
    TopFirst,
    /// Rows 1, 3, 5 …
    BottomFirst,
}

/// What holds still in the picture, so that a frame's own shift and turn can be removed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "by", rename_all = "lowercase", deny_unknown_fields)]
pub enum SteadyEntry {
    /// The targets on the body whose role is ground.
    Ground {},
    /// Perforations, or corners of the frame: each as left, top, width and height, px.
    Perforations {
        /// Boxes about as large as the holes.
        boxes_px: Vec<[f64; 4]>,
    },
}

/// A place that two cameras followed, as evidence that their clocks agree.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TieEntry {
    /// The two cameras.
    pub cameras: [String; 2],
    /// The target of each that shows the same place of the same body.
    pub targets: [String; 2],
}

/// A switch recorded with the sensors: its closing is time zero of their records.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SwitchEntry {
    /// Exchange folder header (`.mme`) or CSV file, relative to the dossier.
    pub file: String,
    /// Channel code, or column header.
    pub code: String,
    /// Level that is crossed, in the channel's unit; half-way between its two levels when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<f64>,
    /// Whether it is crossed downwards.
    #[serde(default)]
    pub falling: bool,
    /// Time that the channel takes to rise or fall, s.
    #[serde(default)]
    pub rise_s: f64,
}
