//! Calibrating a lens in the background.

use filmgauge_dossier::lens::{
    EdgesFile, LensCalibration, board_of, calibrate_from_board, calibrate_from_edges,
};
use filmgauge_dossier::{DossierError, Progress, Watch};
use filmgauge_footage::Frame;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

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
    shared: Arc<Shared>,
    thread: Option<JoinHandle<Lens>>,
}

struct Shared {
    step: Mutex<String>,
    stop: AtomicBool,
    wake: Box<dyn Fn() + Send + Sync>,
}

impl Watch for Shared {
    fn progress(&self, progress: &Progress<'_>) {
        let total = progress.total.map_or_else(String::new, |total| format!(" of {total}"));
        *self.step.lock().unwrap_or_else(PoisonError::into_inner) =
            format!("{}, picture {}{total}", progress.step, progress.done + 1);
        (self.wake)();
    }

    fn stop_asked(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

impl Calibrating {
    /// Begins to calibrate the lens of `camera`; `wake` is called when there is news.
    pub(crate) fn begin(camera: String, inputs: LensInputs, wake: impl Fn() + Send + Sync + 'static) -> Self {
        let shared =
            Arc::new(Shared { step: Mutex::default(), stop: AtomicBool::new(false), wake: Box::new(wake) });
        let watch = Arc::clone(&shared);
        let thread = std::thread::spawn(move || {
            let outcome = run(inputs, watch.as_ref());
            (watch.wake)();
            outcome
        });
        Self { camera, shared, thread: Some(thread) }
    }

    /// Camera.
    pub(crate) fn camera(&self) -> &str {
        &self.camera
    }

    /// What is being done.
    pub(crate) fn how_far(&self) -> String {
        self.shared.step.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Asks it to stop; it does at the next picture.
    pub(crate) fn stop(&self) {
        self.shared.stop.store(true, Ordering::Relaxed);
    }

    /// What it came to, once, when it is over.
    pub(crate) fn outcome(&mut self) -> Option<Lens> {
        let thread = self.thread.take_if(|thread| thread.is_finished())?;
        let lost =
            "The calibration broke off inside the program. The dossier is untouched; please report it.";
        Some(thread.join().unwrap_or_else(|_| Lens::Failed(lost.to_owned())))
    }
}

impl Drop for Calibrating {
    fn drop(&mut self) {
        self.stop();
        if let Some(thread) = self.thread.take() {
            // Nobody waits for its outcome any more.
            let _ = thread.join();
        }
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
