//! Errors that end a run, by who must act. Partial trouble becomes a notice instead.

use std::path::PathBuf;

/// Why a dossier could not be read or measured.
#[derive(Debug, thiserror::Error)]
pub enum DossierError {
    /// A line of the dossier must be mended.
    #[error("{file}, line {line}: {what}. {remedy}")]
    Document {
        /// The dossier file.
        file: String,
        /// Line, counted from 1.
        line: usize,
        /// What is wrong.
        what: String,
        /// What to do.
        remedy: String,
    },
    /// The footage of a camera could not be read.
    #[error("camera {camera}: {source}")]
    Footage {
        /// Camera id.
        camera: String,
        /// What the footage reader says.
        source: filmgauge_footage::FootageError,
    },
    /// Board or lens of a camera cannot be used.
    #[error("camera {camera}: {source}")]
    Geometry {
        /// Camera id.
        camera: String,
        /// What the geometry says.
        source: filmgauge_geometry::GeometryError,
    },
    /// Following could not be set up.
    #[error("camera {camera}: {source}")]
    Targets {
        /// Camera id.
        camera: String,
        /// What the follower says.
        source: filmgauge_targets::TargetsError,
    },
    /// Finding targets in a frame could not begin.
    #[error("{0}")]
    Spotting(filmgauge_targets::TargetsError),
    /// A layout of surveyed targets cannot be used.
    #[error("{0}")]
    Layout(filmgauge_geometry::GeometryError),
    /// A lens could not be calibrated: what, why and what to do.
    #[error("{0}")]
    Lens(String),
    /// A file could not be read.
    #[error("{path}: {source}. Check that the file exists and may be read", path = path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// Channel files cannot be used.
    #[error("{0}")]
    Channel(String),
    /// The threads asked for could not be had.
    #[error("{threads} threads could not be started ({why}). Ask for fewer")]
    Threads {
        /// Threads asked for; 0 for all cores.
        threads: usize,
        /// What the system says.
        why: String,
    },
    /// The person asked to stop.
    #[error("stopped on request; no results were written")]
    Stopped,
}
