//! What can go wrong with an archive or a proof, by who must act.

use std::path::PathBuf;

/// Why an archive could not be made or opened, or results could not be compared.
#[derive(Debug, thiserror::Error)]
pub enum HandoverError {
    /// A file or folder could not be read or written.
    #[error("{}: {source}; check that it exists, can be read or written, and that the disk has space", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// The system's reason.
        source: std::io::Error,
    },
    /// The results are missing, or not this program's.
    #[error("{}: {why}; measure the dossier first", path.display())]
    Results {
        /// Which file.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
    /// The results do not follow from the files as they are now.
    #[error(
        "the results are not of the files as they are now: {change}; measure the dossier again, then hand it over"
    )]
    Stale {
        /// The first input that changed.
        change: String,
    },
    /// An input lies outside the dossier's folder.
    #[error(
        "{path} lies outside the dossier's folder and cannot go into the archive; move it into the folder and name it there"
    )]
    Outside {
        /// As the provenance names it.
        path: String,
    },
    /// The archive is damaged, or not one of this program's.
    #[error("{}: {why}; ask for the archive again", path.display())]
    Archive {
        /// Which archive.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
}

impl HandoverError {
    pub(crate) fn file(path: &std::path::Path) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.to_owned();
        move |source| Self::File { path, source }
    }
}
