//! Why a fit failed: a value with a reason, for the sheet and for whoever must act.

/// A fit that could not be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MotionFailure {
    /// Too few marks for what was asked.
    #[error("{what}: {found} marks, {needed} are needed; mark more frames or widen the interval")]
    TooFewMarks {
        /// What was to be found.
        what: &'static str,
        /// Marks there are.
        found: usize,
        /// Marks needed.
        needed: usize,
    },
    /// The marks do not determine the answer.
    #[error("{what}: {why}")]
    Degenerate {
        /// What was to be found.
        what: &'static str,
        /// What is the matter and what helps.
        why: &'static str,
    },
    /// The iteration did not settle.
    #[error("{what}: no convergence in {steps} steps; look for a wrong mark in the interval")]
    NoConvergence {
        /// What was to be found.
        what: &'static str,
        /// Steps made.
        steps: usize,
    },
    /// Times must grow from frame to frame.
    #[error("times do not grow at frame {index} of the list; check the film speed and the frame index")]
    TimesRunBackwards {
        /// Place in the list, from 0.
        index: usize,
    },
    /// Lists that belong together differ in length.
    #[error("{what}: {found} entries for {expected} times; one entry for each frame is needed")]
    LengthsDiffer {
        /// Which list.
        what: &'static str,
        /// Entries there are.
        found: usize,
        /// Entries there should be.
        expected: usize,
    },
    /// A mark's value or variance is not a usable number.
    #[error(
        "the mark at place {index} of the list has a value or a variance that is not usable; mark it again"
    )]
    UnusableMark {
        /// Place in the list, from 0.
        index: usize,
    },
    /// No kink stands out from the noise.
    #[error(
        "no onset: the marks follow the straight run-up throughout the searched interval; widen the search"
    )]
    NoOnset,
    /// A setting is out of range.
    #[error("setting {setting} is {value}: {rule}")]
    Setting {
        /// Name of the setting.
        setting: &'static str,
        /// Its value.
        value: f64,
        /// What it must be.
        rule: &'static str,
    },
}
