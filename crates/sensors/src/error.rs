//! What can go wrong with channel files and channels, by who must act.

use std::path::PathBuf;

/// Trouble with a channel file, a channel or a setting.
#[derive(Debug, thiserror::Error)]
pub enum SensorsError {
    /// The disk must be looked at: a file is missing, unreadable or unwritable.
    #[error("{}: cannot be {action}: {source}", path.display())]
    Disk {
        /// File or folder.
        path: PathBuf,
        /// `read` or `written`.
        action: &'static str,
        /// What the system said.
        source: std::io::Error,
    },
    /// The input file must be corrected: it does not say what a channel file has to say.
    #[error("{}{}: {problem}", path.display(), line.map(|line| format!(", line {line}")).unwrap_or_default())]
    File {
        /// File.
        path: PathBuf,
        /// Line, counted from 1, where one is to blame.
        line: Option<u64>,
        /// What is wrong, and what to do.
        problem: String,
    },
    /// The user must name another channel.
    #[error("{}: no channel \"{code}\"; the file holds: {}", path.display(), listed(available))]
    NoChannel {
        /// File.
        path: PathBuf,
        /// Code asked for.
        code: String,
        /// Codes there are.
        available: Vec<String>,
    },
    /// The user must choose a file of a kind that can be read.
    #[error("{}: not a channel file that can be read; use a test header (.mme) or a table (.csv, or .txt, .asc, .dat, .xy with blanks or tabs)", path.display())]
    Kind {
        /// File.
        path: PathBuf,
    },
    /// The user must correct a channel code.
    #[error("channel code \"{code}\": {problem}")]
    Code {
        /// Code as given.
        code: String,
        /// What is wrong, and what to do.
        problem: String,
    },
    /// The user must state or correct a unit.
    #[error("channel \"{code}\": {problem}")]
    Unit {
        /// Channel.
        code: String,
        /// What is wrong, and what to do.
        problem: String,
    },
    /// The user must change a setting: filter class, time window, names to write.
    #[error("{problem}")]
    Settings {
        /// What is wrong, where, and what to do.
        problem: String,
    },
}

impl SensorsError {
    pub(crate) fn settings(problem: impl Into<String>) -> Self {
        Self::Settings { problem: problem.into() }
    }
}

fn listed(codes: &[String]) -> String {
    if codes.is_empty() { "none".to_owned() } else { codes.join(", ") }
}
