//! Why a clock, a time zero or a lag could not be made: a value with a reason, for the sheet and for whoever must act.

/// What could not be done with the times of a test.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TimingError {
    /// A setting is out of range: the one who set it must act.
    #[error("setting {setting} is {value}: {rule}")]
    Setting {
        /// Name of the setting.
        setting: &'static str,
        /// Its value.
        value: f64,
        /// What it must be.
        rule: &'static str,
    },
    /// Too little was recorded for what was asked.
    #[error("{what}: {found} found, {needed} are needed; mark a longer stretch of the film")]
    TooFew {
        /// What was to be made, and of what.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many are needed.
        needed: usize,
    },
    /// A number that is not usable: NaN, infinite, or an uncertainty that is not above zero.
    #[error("{what}: the entry at place {index} of the list is not usable; mark or read it again")]
    Unusable {
        /// Which list.
        what: &'static str,
        /// Place in the list, from 0.
        index: usize,
    },
    /// Instants or frames that must grow do not.
    #[error(
        "{what}: the entry at place {index} of the list does not lie after the one before; check the order"
    )]
    Backwards {
        /// Which list.
        what: &'static str,
        /// Place in the list, from 0.
        index: usize,
    },
    /// Lists that belong together differ in length.
    #[error("{what}: {found} entries, {expected} are needed; give one for each time")]
    LengthsDiffer {
        /// Which list.
        what: &'static str,
        /// Entries there are.
        found: usize,
        /// Entries there should be.
        expected: usize,
    },
    /// The lamp or the switch never changes.
    #[error(
        "{what}: the levels show no change that stands out from their noise; choose another region or channel"
    )]
    NoChange {
        /// What was looked for.
        what: &'static str,
    },
    /// The readings do not determine the answer.
    #[error("{what}: {why}")]
    NotDetermined {
        /// What was to be found.
        what: &'static str,
        /// What is the matter and what helps.
        why: String,
    },
    /// A time was asked for where the film carries no marks.
    #[error(
        "frame {frame} lies outside the timing marks, which span frames {first:.1} to {last:.1}; \
         mark more of the film, or allow extrapolation knowingly"
    )]
    OutsideMarks {
        /// Frame coordinate asked for.
        frame: f64,
        /// First frame with a mark.
        first: f64,
        /// Last frame with a mark.
        last: f64,
    },
    /// A clock was named that is not in the list of clocks.
    #[error("clock \"{name}\" is not in the list of clocks; check the name")]
    UnknownClock {
        /// The name.
        name: String,
    },
}

/// Checks that a setting is finite and satisfies `holds`.
pub(crate) fn setting(
    name: &'static str,
    value: f64,
    rule: &'static str,
    holds: impl Fn(f64) -> bool,
) -> Result<(), TimingError> {
    if value.is_finite() && holds(value) {
        Ok(())
    } else {
        Err(TimingError::Setting { setting: name, value, rule })
    }
}

/// Checks that every number of a list is finite.
pub(crate) fn all_finite(what: &'static str, values: &[f64]) -> Result<(), TimingError> {
    match values.iter().position(|value| !value.is_finite()) {
        Some(index) => Err(TimingError::Unusable { what, index }),
        None => Ok(()),
    }
}

/// Checks that every standard uncertainty of a list is finite and above zero.
pub(crate) fn all_above_zero(what: &'static str, values: &[f64]) -> Result<(), TimingError> {
    match values.iter().position(|&value| !(value.is_finite() && value > 0.0)) {
        Some(index) => Err(TimingError::Unusable { what, index }),
        None => Ok(()),
    }
}

/// Checks that a list of finite numbers grows.
pub(crate) fn all_growing(what: &'static str, values: &[f64]) -> Result<(), TimingError> {
    match values.windows(2).position(|pair| pair[1] <= pair[0]) {
        Some(index) => Err(TimingError::Backwards { what, index: index + 1 }),
        None => Ok(()),
    }
}
