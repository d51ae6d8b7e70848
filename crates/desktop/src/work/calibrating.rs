//! Calibrating a lens in the background.

use super::background::Background;
use filmgauge_dossier::lens::{
    EdgesFile, LensCalibration, board_of, calibrate_from_board, calibrate_from_edges,
};
use filmgauge_dossier::{DossierError, Watch};
use filmgauge_footage::Frame;
use std::path::PathBuf;
use std::sync::Arc;

/// What a lens is to be calibrated from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum LensJob {
    /// Pictures of a board, as given in the camera's line.
    Board,
    /// Straight edges shown in the film.
    Edges,
}

/// All that a calibration needs.
pub(crate) enum LensInputs {
    /// Pictures of a board, relative to a folder; its grid and pitch as people write them.
    Board {
        /// Folder.
        root: PathBuf,
        /// Pictures.
        pictures: Vec<String>,
        /// Inner corners.
        grid: String,
        /// Side of a square.
        pitch: String,
    },
    /// Straight edges in a frame.
    Edges {
        /// Frame.
        frame: Arc<Frame>,
        /// The edges.
        shown: EdgesFile,
    },
}

/// What it came to.
pub(crate) enum Lens {
    /// A lens; of edges with their file.
    Calibrated(Box<LensCalibration>, Option<EdgesFile>),
    /// It was stopped.
    Stopped,
    /// There is none, and why.
    Failed(String),
}

/// A calibration that is under way.
pub(crate) struct Calibrating {
    camera: String,
    work: Background<Lens>,
}

impl Calibrating {
    /// Begins to calibrate the lens of `camera`; `wake` is called when there is news.
    pub(crate) fn begin(camera: String, inputs: LensInputs, wake: impl Fn() + Send + Sync + 'static) -> Self {
        Self { camera, work: Background::begin(move |watch| run(inputs, watch), wake) }
    }

    /// Camera.
    pub(crate) fn camera(&self) -> &str {
        &self.camera
    }

    /// What is being done.
    pub(crate) fn how_far(&self) -> String {
        let how_far = self.work.how_far();
        let total = how_far.total.map_or_else(String::new, |total| format!(" of {total}"));
        format!("{}, picture {}{total}", how_far.step, how_far.done + 1)
    }

    /// Asks it to stop; it does at the next picture.
    pub(crate) fn stop(&self) {
        self.work.stop();
    }

    /// What it came to, once, when it is over.
    pub(crate) fn outcome(&mut self) -> Option<Lens> {
        Some(self.work.outcome("The calibration")?.unwrap_or_else(Lens::Failed))
    }
}

fn run(inputs: LensInputs, watch: &dyn Watch) -> Lens {
    let outcome = match inputs {
        LensInputs::Board { root, pictures, grid, pitch } => board_of(&grid, &pitch)
            .and_then(|board| calibrate_from_board(&root, &pictures, &board, watch))
            .map(|found| (LensCalibration::Board(Box::new(found)), None)),
        LensInputs::Edges { frame, shown } => calibrate_from_edges(&frame.picture.view(), &shown)
            .map(|found| (LensCalibration::Edges(Box::new(found)), Some(shown))),
    };
    match outcome {
        Ok((calibration, shown)) => Lens::Calibrated(Box::new(calibration), shown),
        Err(DossierError::Stopped) => Lens::Stopped,
        Err(error) => Lens::Failed(error.to_string()),
    }
}
