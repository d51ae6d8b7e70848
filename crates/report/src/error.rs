//! What can go wrong while results are written or drawn, by who must act.

use std::path::PathBuf;

/// Why results could not be written or the sheet could not be made.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// Results hold a number that no file may hold. The measuring side must leave such a value out and say why.
    #[error(
        "{field} is {value}, which no results file may hold: the measurement must leave the value out and give a reason"
    )]
    NotFinite {
        /// Which field of which row.
        field: String,
        /// The number as found.
        value: f64,
    },
    /// A folder or file could not be written. The user must free space, change rights or choose another folder.
    #[error(
        "cannot {doing} {}: {source}", path.display()
    )]
    Write {
        /// What was tried.
        doing: &'static str,
        /// Where.
        path: PathBuf,
        /// The system's reason, with what to do.
        source: std::io::Error,
    },
    /// A file of stored results cannot be used. The user must measure again.
    #[error("{}: {why}; measure the dossier again with this version", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What is wrong with it, with its line where known.
        why: String,
    },
    /// A curve that the results do not hold. The user must choose another.
    #[error("there is no curve \"{name}\"; the results hold {}", if names.is_empty() { "none: they need a side camera".to_owned() } else { names.join(", ") })]
    NoSuchCurve {
        /// As asked for.
        name: String,
        /// Those that there are.
        names: Vec<String>,
    },
    /// More curves than a picture has room for. The user must leave some out.
    #[error("curve \"{name}\" is one too many: a marked film has room for {most}; leave some out")]
    TooManyCurves {
        /// The first beyond.
        name: String,
        /// How many there is room for.
        most: usize,
    },
    /// A table, a JSON file, a picture or the sheet could not be put into words: a fault of this program.
    #[error(
        "{what} could not be made: {why}; this is a fault of the program, please report it with the dossier"
    )]
    Make {
        /// Which file or part.
        what: &'static str,
        /// The encoder's reason.
        why: String,
    },
}

impl ReportError {
    pub(crate) fn make(what: &'static str, why: impl std::fmt::Display) -> Self {
        Self::Make { what, why: why.to_string() }
    }
}
