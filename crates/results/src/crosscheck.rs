//! Film against one channel: what `crosscheck.json` holds.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A value with one standard uncertainty, in the unit its field names.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ValueAndU {
    /// Best estimate.
    pub value: f64,
    /// One standard uncertainty.
    pub uncertainty: f64,
}

/// A fault that the evidence points to, likeliest first in its list.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SuspectedFault {
    /// `gain`, `offset`, `polarity`, `delay`, `wrong axis`, `clipping`, `baseline step`, `dropout`, `filter class`,
    /// `ringing mount` or `drift`.
    pub fault: String,
    /// The numbers behind it, in words.
    pub evidence: String,
    /// What to look at on the rig.
    pub look_at: String,
}

/// One explanation of film and channel, beside the others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExplanationTried {
    /// `sound`, or the one fault.
    pub fault: String,
    /// Bayesian information criterion less that of the best explanation; 0 for the best.
    pub bic_above_best: f64,
    /// Residual over its expected spread with this explanation.
    pub agreement: f64,
}

/// One channel against another that senses the same place along the same axis. Which of both is to blame, the pair alone cannot say.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BesideResult {
    /// Code of the other channel, the reference.
    pub channel: String,
    /// This channel's reading divided by the other's; `None` with too little motion.
    pub gain: Option<ValueAndU>,
    /// What this channel reads more than the other at rest.
    pub offset: Option<ValueAndU>,
    /// Unit of the offset.
    pub unit: String,
    /// This channel later than the other, s; `None` with too little motion.
    pub lag_s: Option<ValueAndU>,
    /// What is left over, divided by its expected spread.
    pub agreement: Option<f64>,
    /// Correlation at the best lag.
    pub correlation: Option<f64>,
    /// In words, with what the film says of either.
    pub verdict: String,
    /// What differs, the worst first; empty where both agree.
    pub suspected: Vec<SuspectedFault>,
    /// Why there are no numbers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// What quiet stretches say of a channel's zero.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ZeroCheck {
    /// Slope over the quiet stretch before contact, `unit`/s.
    pub slope: ValueAndU,
    /// Zero over the last stretch of the record less that before contact; holds where the body rests by then.
    pub moved: Option<ValueAndU>,
    /// Unit of the zero.
    pub unit: String,
    /// In words.
    pub text: String,
}

/// Film against one channel. A check that could not be made has no numbers and a reason.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CrosscheckResult {
    /// Channel code.
    pub channel: String,
    /// Body that carries the sensor.
    pub body: String,
    /// Channel's reading divided by the film's, 1 for a sound sensor.
    pub gain: Option<ValueAndU>,
    /// Constant added by the channel, m/s².
    pub offset_m_s2: Option<ValueAndU>,
    /// Channel later than film, s.
    pub lag_s: Option<ValueAndU>,
    /// Root mean square of film minus fitted channel, in displacement, m.
    pub residual_rms_m: Option<f64>,
    /// Residual divided by its expected spread: about 1 when film and channel agree.
    pub agreement: Option<f64>,
    /// In words.
    pub verdict: String,
    /// Likeliest first; empty for a sound channel.
    pub suspected: Vec<SuspectedFault>,
    /// Every single explanation that was tried, likeliest first; empty where none was.
    #[serde(default)]
    pub explanations: Vec<ExplanationTried>,
    /// How alike film and channel are as curves; absent where they could not be laid over each other.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub figures: Option<AgreementFigures>,
    /// Against every other channel of the same body and axis that comes before it in the dossier.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub beside: Vec<BesideResult>,
    /// Its zero before and after the test; absent where there is no quiet stretch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub zero: Option<ZeroCheck>,
    /// Steps applied to the channel, in order, and steps that the dossier leaves out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub steps: Vec<String>,
    /// Why there are no numbers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// There are no numbers because the film cannot see what the channel senses: nobody need act.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub absent: bool,
}

/// How alike two curves are: the speed change since contact by film (reference) and by the channel (judged).
///
/// None but the normalised error knows an uncertainty: the first three judge shapes, not truth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AgreementFigures {
    /// What was compared, in words.
    pub compared: String,
    /// Overall rating of ISO/TS 18571, 0 to 1, and its word; formulas from memory.
    pub rating: f64,
    /// `excellent`, `good`, `fair` or `poor`.
    pub grade: String,
    /// Corridor, phase, magnitude and slope of that rating, 0 to 1.
    pub rating_parts: [f64; 4],
    /// Magnitude, phase and both of Sprague and Geers, as shares.
    pub sprague_geers: [f64; 3],
    /// Mean and standard deviation of the residuals over the reference's peak.
    pub residuals: [f64; 2],
    /// Normalised error E_n of the whole speed change; up to 1 in size both agree within what they say of themselves.
    pub normalised_error: Option<f64>,
}

impl CrosscheckResult {
    /// Whether a person must look at this channel.
    #[must_use]
    pub fn needs_person(&self) -> bool {
        let apart = self.beside.iter().any(|beside| !beside.suspected.is_empty());
        (self.reason.is_some() && !self.absent) || !self.suspected.is_empty() || apart
    }
}
