//! Gap and event lines of the dossier: the analyst's word about stretches and instants of a film.

use filmgauge_quantities::GapCause;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A stretch in which marks of a target that were found or inferred are dropped. Marks by hand stay.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GapEntry {
    /// Camera id.
    pub camera: String,
    /// Target id.
    pub target: String,
    /// First and last frame of the stretch.
    pub frames: [u32; 2],
    /// `hidden`, `out_of_view`, `blurred`, `flash`, `damaged_frame` or `rejected`.
    #[serde(default = "rejected")]
    #[schemars(with = "CauseWord")]
    pub cause: GapCause,
}

fn rejected() -> GapCause {
    GapCause::Rejected
}

#[derive(JsonSchema)]
#[serde(rename_all = "snake_case")]
#[expect(dead_code, reason = "names the words of GapCause for the published schema")]
enum CauseWord {
    Hidden,
    OutOfView,
    Blurred,
    Flash,
    DamagedFrame,
    Rejected,
}

/// An instant named by hand.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EventEntry {
    /// Short name, once in a dossier.
    pub id: String,
    /// Camera id.
    pub camera: String,
    /// Frame in which it is seen.
    pub frame: u32,
    /// What is seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
}
