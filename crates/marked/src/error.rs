//! What can keep a marked film from being made, by who must act.

use filmgauge_dossier::DossierError;
use filmgauge_footage::FootageError;
use filmgauge_handover::HandoverError;
use filmgauge_report::ReportError;
use std::path::PathBuf;

/// Why a marked film or its stills could not be made.
#[derive(Debug, thiserror::Error)]
pub enum MarkedError {
    /// An option that makes no sense for this dossier.
    #[error("{0}")]
    Option(String),
    /// The dossier itself.
    #[error("{0}")]
    Dossier(#[from] DossierError),
    /// There are no results, or they cannot be compared with the files.
    #[error("{0}")]
    Results(#[from] HandoverError),
    /// The results do not follow from the dossier as it is now.
    #[error("the results are not of the dossier as it is now: {}; measure it again", changes.join("; "))]
    Stale {
        /// What changed since.
        changes: Vec<String>,
    },
    /// Drawing, or a file of the results.
    #[error("{0}")]
    Report(#[from] ReportError),
    /// Footage could not be read, or a film could not be written.
    #[error("{0}")]
    Footage(#[from] FootageError),
    /// A frame that is not the one that was measured.
    #[error(
        "camera {camera}, frame {frame}: the picture is not the one that was measured; measure the dossier again"
    )]
    OtherPicture {
        /// Camera.
        camera: String,
        /// Frame.
        frame: u32,
    },
    /// A folder could not be made, read or cleared.
    #[error("{}: {source}; choose another place for the marked film, or allow writing there", path.display())]
    Folder {
        /// Which.
        path: PathBuf,
        /// The system's reason.
        source: std::io::Error,
    },
    /// The threads asked for could not be had.
    #[error("{threads} threads could not be started ({why}); ask for fewer")]
    Threads {
        /// Threads asked for; 0 for all cores.
        threads: usize,
        /// What the system says.
        why: String,
    },
    /// The person asked to stop.
    #[error("stopped on request; {}", kept.as_ref().map_or_else(|| "whole pictures stay where they are".to_owned(), |folder| format!("the finished part is kept in {}, and the same command goes on from there", folder.display())))]
    Stopped {
        /// Folder with the pieces that are finished.
        kept: Option<PathBuf>,
    },
}
