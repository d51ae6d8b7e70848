//! Why flail-space figures could not be made, by who must act.

/// A flail-space figure that could not be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum OccupantFailure {
    /// The record must be longer or complete.
    #[error("{what} has {n_samples} samples from contact on; flail-space figures need at least 2")]
    TooShort {
        /// Which record.
        what: &'static str,
        /// Samples found.
        n_samples: usize,
    },
    /// The records must be brought to one length.
    #[error("{what}: {found} samples against {expected}; hand in records of one length and time base")]
    Lengths {
        /// Which record.
        what: &'static str,
        /// Its samples.
        found: usize,
        /// Samples of the first record.
        expected: usize,
    },
    /// The record must be repaired.
    #[error(
        "{what}, sample {index}: not a finite number, or a time that does not run forwards; repair the record"
    )]
    Sample {
        /// Which record.
        what: &'static str,
        /// Sample, counted from 0.
        index: usize,
    },
    /// The record cannot be filtered as asked.
    #[error("the record cannot be filtered: {why}")]
    Filter {
        /// Why, and what to do.
        why: String,
    },
    /// A setting must be changed.
    #[error("{name} is {value}; it must be a finite number above 0")]
    Settings {
        /// Setting and unit.
        name: &'static str,
        /// Its value.
        value: f64,
    },
}

/// The setting, when it is finite and above 0.
pub(crate) fn above_zero(name: &'static str, value: f64) -> Result<(), OccupantFailure> {
    if value.is_finite() && value > 0.0 { Ok(()) } else { Err(OccupantFailure::Settings { name, value }) }
}

/// Every sample is finite.
pub(crate) fn all_finite(what: &'static str, samples: &[f64]) -> Result<(), OccupantFailure> {
    match samples.iter().position(|value| !value.is_finite()) {
        Some(index) => Err(OccupantFailure::Sample { what, index }),
        None => Ok(()),
    }
}
