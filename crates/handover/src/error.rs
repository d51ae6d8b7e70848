//! What can go wrong with an archive or a proof, by who must act.

use filmgauge_dossier::{DossierError, Watch};
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
    /// The archive would lie among the results.
    #[error("{} lies among the results, which hold nothing but what was measured; choose another folder", path.display())]
    Place {
        /// Where it was to be.
        path: PathBuf,
    },
    /// Footage that an archive holds by its hash alone is not there.
    #[error("{}: {file} stands in the archive by its hash alone and is not in {}; name the folder in which it lies", archive.display(), folder.as_ref().map_or_else(|| "any folder that was given".to_owned(), |folder| folder.display().to_string()))]
    Footage {
        /// Which archive.
        archive: PathBuf,
        /// Which file.
        file: String,
        /// Where it was sought.
        folder: Option<PathBuf>,
    },
    /// The dossier could not be read or measured.
    #[error("{0}")]
    Dossier(DossierError),
    /// Results could not be written.
    #[error("{0}")]
    Report(#[from] filmgauge_report::ReportError),
    /// The person asked to stop.
    #[error("stopped on request; nothing was written")]
    Stopped,
    /// The archive is damaged, or not one of this program's.
    #[error("{}: {why}; ask for the archive again", path.display())]
    Archive {
        /// Which archive.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
}

impl From<DossierError> for HandoverError {
    fn from(error: DossierError) -> Self {
        match error {
            DossierError::Stopped => Self::Stopped,
            error => Self::Dossier(error),
        }
    }
}

impl HandoverError {
    /// A fault met while `path` was read or written, or the stop that was asked for.
    pub(crate) fn watched<'a>(
        path: &'a std::path::Path,
        watch: &'a dyn Watch,
    ) -> impl Fn(std::io::Error) -> Self + 'a {
        move |source| {
            if watch.stop_asked() { Self::Stopped } else { Self::File { path: path.to_owned(), source } }
        }
    }

    pub(crate) fn file(path: &std::path::Path) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.to_owned();
        move |source| Self::File { path, source }
    }
}
