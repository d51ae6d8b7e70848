//! Why film and channel could not be compared, by who must act.

/// A crosscheck that could not be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CrosscheckFailure {
    /// The motion from film must be completed or corrected.
    #[error("motion from film: {problem}")]
    Film {
        /// What is wrong, and what to do.
        problem: String,
    },
    /// The channel must be converted, replaced or left out.
    #[error("channel \"{code}\": {problem}")]
    Channel {
        /// Channel code.
        code: String,
        /// What is wrong, and what to do.
        problem: String,
    },
    /// Film and channel must cover the same stretch.
    #[error(
        "channel \"{code}\" and film share {n_frames} frames with marks around contact, at least {needed} are needed; \
         the channel runs from {from_s} s to {to_s} s: check time zero on both"
    )]
    Overlap {
        /// Channel code.
        code: String,
        /// Frames in common.
        n_frames: usize,
        /// Frames needed.
        needed: usize,
        /// Start of the channel, s.
        from_s: f64,
        /// End of the channel, s.
        to_s: f64,
    },
    /// The numbers do not settle: the channel hardly belongs to this motion.
    #[error("channel \"{code}\" cannot be fitted to the film: {problem}")]
    NotDetermined {
        /// Channel code.
        code: String,
        /// Why, and what to do.
        problem: String,
    },
    /// Two curves cannot be compared.
    #[error("the two curves cannot be compared: {why}; put both on one time base, filtered alike")]
    Curves {
        /// Why.
        why: String,
    },
    /// A setting must be changed.
    #[error("{name} is {value}; {range}")]
    Settings {
        /// Setting and unit.
        name: &'static str,
        /// Its value.
        value: f64,
        /// What it has to be.
        range: &'static str,
    },
}

impl CrosscheckFailure {
    pub(crate) fn film(problem: impl Into<String>) -> Self {
        Self::Film { problem: problem.into() }
    }
}
