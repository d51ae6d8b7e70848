//! Writing a marked film in the background.

use filmgauge_dossier::{Dossier, Progress, Watch};
use filmgauge_marked::{MarkedError, MarkedMade, MarkedOptions, marked_film};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

/// Every how many frames the screen is woken.
const WAKE_EVERY: u64 = 10;

/// What it came to.
pub(crate) enum Marked {
    /// The film.
    Made(Box<MarkedMade>),
    /// It was stopped, and what is kept.
    Stopped(String),
    /// There is none, and why.
    Failed(String),
}

/// A marked film that is being written.
pub(crate) struct Marking {
    camera: String,
    shared: Arc<Shared>,
    thread: Option<JoinHandle<Marked>>,
}

struct Shared {
    done: Mutex<(u64, Option<u64>)>,
    stop: AtomicBool,
    wake: Box<dyn Fn() + Send + Sync>,
}

impl Watch for Shared {
    fn progress(&self, progress: &Progress<'_>) {
        *self.done.lock().unwrap_or_else(PoisonError::into_inner) = (progress.done, progress.total);
        if progress.done.is_multiple_of(WAKE_EVERY) {
            (self.wake)();
        }
    }

    fn stop_asked(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

impl Marking {
    /// Begins to write the marked film of `camera` to `path`, whose folder is made; `wake` is called when there is news.
    pub(crate) fn begin(
        dossier: Dossier,
        camera: String,
        path: PathBuf,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> Self {
        let shared =
            Arc::new(Shared { done: Mutex::default(), stop: AtomicBool::new(false), wake: Box::new(wake) });
        let watch = Arc::clone(&shared);
        let options = MarkedOptions { camera: Some(camera.clone()), ..MarkedOptions::default() };
        let thread = std::thread::spawn(move || {
            let outcome = match marked_film(&dossier, &options, &path, watch.as_ref()) {
                Ok(made) => Marked::Made(Box::new(made)),
                Err(error @ MarkedError::Stopped { .. }) => Marked::Stopped(error.to_string()),
                Err(error) => Marked::Failed(error.to_string()),
            };
            (watch.wake)();
            outcome
        });
        Self { camera, shared, thread: Some(thread) }
    }

    /// Camera.
    pub(crate) fn camera(&self) -> &str {
        &self.camera
    }

    /// Frames done so far, and in all where known.
    pub(crate) fn how_far(&self) -> (u64, Option<u64>) {
        *self.shared.done.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Asks it to stop; it does at the next frame.
    pub(crate) fn stop(&self) {
        self.shared.stop.store(true, Ordering::Relaxed);
    }

    /// Whether it was asked to stop.
    pub(crate) fn is_stopping(&self) -> bool {
        self.shared.stop.load(Ordering::Relaxed)
    }

    /// What it came to, once, when it is over.
    pub(crate) fn outcome(&mut self) -> Option<Marked> {
        let thread = self.thread.take_if(|thread| thread.is_finished())?;
        let lost = "Writing the marked film broke off inside the program. The dossier is untouched; please report it.";
        Some(thread.join().unwrap_or_else(|_| Marked::Failed(lost.to_owned())))
    }
}

impl Drop for Marking {
    fn drop(&mut self) {
        self.stop();
        if let Some(thread) = self.thread.take() {
            // Nobody waits for its outcome any more.
            let _ = thread.join();
        }
    }
}
