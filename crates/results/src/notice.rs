//! Notices: partial trouble with its place, for a person to see; a bad frame does not end a run.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How much a notice matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Good to know.
    Note,
    /// A figure may be off.
    Warning,
    /// Something asked for could not be done; a person must act.
    Person,
}

impl Severity {
    /// The word used on screen.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Person => "needs a person",
        }
    }
}

/// What, where, why, what to do.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Notice {
    /// How much it matters.
    pub severity: Severity,
    /// Where: camera, target, frames, channel or file.
    pub place: String,
    /// What happened and why.
    pub text: String,
    /// What to do; empty when nothing need be done.
    pub remedy: String,
}
