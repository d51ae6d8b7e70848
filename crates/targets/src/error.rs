//! The crate's errors, by who must act: the settings, the analyst's starts, or what is not supported.

use filmgauge_quantities::{TargetId, TargetKind};

/// Why targets cannot be looked for or followed at all. A target that fails in one frame is a gap, not an error.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TargetsError {
    /// A setting is out of its range.
    #[error("setting {setting} is {value}, but {rule}; change that setting")]
    Setting {
        /// Name of the setting.
        setting: &'static str,
        /// Its value as given.
        value: f64,
        /// What it must be.
        rule: &'static str,
    },
    /// A target's start cannot be right.
    #[error("start of target {target}: {why}; correct its entry")]
    Start {
        /// The target.
        target: TargetId,
        /// What is wrong with its start.
        why: String,
    },
    /// A kind of target that is not carried from frame to frame.
    #[error(
        "target {target} is of kind {}, which has no centre of symmetry and is not followed; \
         use quadrant, cross, disc or ring, or mark it by hand", kind.word()
    )]
    Unsupported {
        /// The target.
        target: TargetId,
        /// Its kind.
        kind: TargetKind,
    },
}

/// An error unless `holds`.
pub(crate) fn require(
    holds: bool,
    setting: &'static str,
    value: f64,
    rule: &'static str,
) -> Result<(), TargetsError> {
    if holds { Ok(()) } else { Err(TargetsError::Setting { setting, value, rule }) }
}

/// A setting's name, value, range and the range in words.
pub(crate) type Rule = (&'static str, f64, std::ops::RangeInclusive<f64>, &'static str);

/// An error for the first setting outside its range.
pub(crate) fn require_all(rules: &[Rule]) -> Result<(), TargetsError> {
    rules
        .iter()
        .try_for_each(|(setting, value, range, rule)| require(range.contains(value), setting, *value, rule))
}
