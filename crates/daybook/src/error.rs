//! Why an edit was refused or could not be written, and what is safe.

use filmgauge_dossier::DossierError;
use std::path::PathBuf;

/// Trouble with a dossier that is being worked on.
#[derive(Debug, thiserror::Error)]
pub enum DaybookError {
    /// The dossier cannot be read.
    #[error(transparent)]
    Dossier(#[from] DossierError),
    /// An edit cannot be made; nothing changed.
    #[error("{what}; nothing was changed")]
    Refused {
        /// What is wrong with it.
        what: String,
    },
    /// The dossier was opened without leave to write.
    #[error("this dossier is open for reading only: {why}")]
    ReadOnly {
        /// Who or what keeps it.
        why: String,
    },
    /// Something could not be written.
    #[error("{path} could not be written: {source}. {safe}", path = path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
        /// What is safe, and whether it is tried again.
        safe: String,
    },
    /// A file could not be read.
    #[error("{path} could not be read: {source}", path = path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// A file was changed by someone else while it was open here.
    #[error(
        "{file} was changed outside while it was open here. That version is kept as {kept}; the next save writes the one shown here"
    )]
    ChangedOutside {
        /// The file.
        file: String,
        /// Name under which the other version was kept.
        kept: String,
    },
    /// The day book was written by a newer version.
    #[error("{path}, line {line}: the day book has schema {schema}, this version knows up to {known}. Use a newer version; nothing was written", path = path.display())]
    Newer {
        /// The day book.
        path: PathBuf,
        /// Line, counted from 1.
        line: usize,
        /// Its schema.
        schema: u64,
        /// Greatest schema known here.
        known: u64,
    },
    /// The dossier was written by a newer version.
    #[error("{path}: the dossier has schema {schema}, this version knows up to {known}. Use a newer version; nothing was written", path = path.display())]
    NewerDossier {
        /// The dossier file.
        path: PathBuf,
        /// Its schema.
        schema: i64,
        /// Greatest schema known here.
        known: u32,
    },
    /// A dossier is there already.
    #[error("{path} exists; an existing dossier is never replaced", path = path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// A part of the record cannot be put into words of a file.
    #[error("the day book's line could not be made: {0}")]
    Line(#[from] serde_json::Error),
}

impl DaybookError {
    pub(crate) fn refused(what: impl Into<String>) -> Self {
        Self::Refused { what: what.into() }
    }
}
