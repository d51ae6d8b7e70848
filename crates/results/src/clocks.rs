//! The common clock of cameras and sensors, and each frame's own step, as results.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What ties the clocks of one test, and how well they agree.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct ClocksResult {
    /// Clock that the others are referred to.
    pub reference: String,
    /// Every clock that is tied to it.
    pub clocks: Vec<ClockResult>,
    /// Every tie, with what it leaves over.
    pub ties: Vec<ClockTieResult>,
    /// What is doubtful.
    pub notes: Vec<String>,
}

impl ClocksResult {
    /// A tie that stands out from the others by more than this many of its standard uncertainties needs a person.
    const MOST_RATIO: f64 = 3.5;

    /// Whether a tie disagrees with the others or could not be used.
    #[must_use]
    pub fn needs_person(&self) -> bool {
        let disagrees = |tie: &ClockTieResult| tie.ratio.is_some_and(|ratio| ratio.abs() > Self::MOST_RATIO);
        self.ties.iter().any(|tie| tie.reason.is_some() || disagrees(tie))
    }
}

/// One clock against the reference.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct ClockResult {
    /// Camera, or file of the recorder.
    pub clock: String,
    /// To be added to its readings to get the reference's, s.
    pub offset_s: f64,
    /// Standard uncertainty, s.
    pub uncertainty_s: f64,
    /// Rate of the reference over this clock's, less 1; absent where it was held at 0.
    pub drift: Option<f64>,
    /// Standard uncertainty of it.
    pub drift_uncertainty: Option<f64>,
}

/// One tie.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct ClockTieResult {
    /// What ties, in words.
    pub tie: String,
    /// The tie less the common clock, s.
    pub residual_s: Option<f64>,
    /// The residual over its own standard uncertainty; absent where no other tie checks this one.
    pub ratio: Option<f64>,
    /// Why it could not be used.
    pub reason: Option<String>,
}

/// How one frame's picture lies against the reference frame.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StepRow {
    /// Camera id.
    pub camera: String,
    /// Frame number.
    pub frame: u32,
    /// Shift to the right, px.
    pub dx_px: Option<f64>,
    /// Its standard uncertainty, px.
    pub u_dx_px: Option<f64>,
    /// Shift downwards, px.
    pub dy_px: Option<f64>,
    /// Its standard uncertainty, px.
    pub u_dy_px: Option<f64>,
    /// Turn from x towards y, rad.
    pub turn_rad: Option<f64>,
    /// Its standard uncertainty, rad.
    pub u_turn_rad: Option<f64>,
    /// Marks used.
    pub n_marks: u32,
    /// Why there is no step; empty where there is one.
    pub reason: String,
}
