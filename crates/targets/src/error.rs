//! The crate's errors, by who must act: the settings, the analyst's starts, or the analyst's hand marks.

use filmgauge_quantities::{FrameNumber, TargetId};

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
    /// A mark placed by hand cannot be used.
    #[error("hand mark of target {target} in frame {frame}: {why}; correct or remove its line")]
    Hand {
        /// The target.
        target: TargetId,
        /// The frame.
        frame: FrameNumber,
        /// What is wrong with it.
        why: String,
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
