//! Measuring in the background: dossier in, results and their files out.

use filmgauge_dossier::{Dossier, DossierError, KeepPasses, LiveMark, Progress, RunOptions, Watch};
use filmgauge_results::Results;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Screens are woken no oftener than this.
const WAKE_EVERY: Duration = Duration::from_millis(50);

/// What measuring came to.
#[derive(Debug)]
pub(crate) enum Outcome {
    /// Results, and what became of their files.
    Measured(Box<Results>, Result<PathBuf, String>),
    /// It was stopped.
    Stopped,
    /// It could not be done.
    Failed(String),
}

/// How far it is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct HowFar {
    /// What is being done.
    pub(crate) step: String,
    /// Done so far.
    pub(crate) done: u64,
    /// To do in all, where known.
    pub(crate) total: Option<u64>,
}

/// A measurement that is under way.
pub(crate) struct Measuring {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<Outcome>>,
    /// Version of the workbook that is measured.
    pub(crate) version: u64,
    /// When it began.
    pub(crate) since: Instant,
}

/// Places of targets by camera and frame, px.
type Live = BTreeMap<(String, u32), Vec<(String, [f64; 2])>>;

struct Shared {
    how_far: Mutex<HowFar>,
    live: Mutex<Live>,
    stop: AtomicBool,
    woken: Mutex<Instant>,
    wake: Box<dyn Fn() + Send + Sync>,
}

impl Watch for Shared {
    fn progress(&self, progress: &Progress<'_>) {
        let how_far = HowFar { step: progress.step.to_owned(), done: progress.done, total: progress.total };
        *self.how_far.lock().unwrap_or_else(PoisonError::into_inner) = how_far;
        let mut woken = self.woken.lock().unwrap_or_else(PoisonError::into_inner);
        if woken.elapsed() > WAKE_EVERY {
            *woken = Instant::now();
            (self.wake)();
        }
    }

    fn mark(&self, mark: &LiveMark<'_>) {
        let place = (mark.target.to_string(), [mark.centre.x, mark.centre.y]);
        let mut live = self.live.lock().unwrap_or_else(PoisonError::into_inner);
        live.entry((mark.camera.to_string(), mark.frame.0)).or_default().push(place);
    }

    fn stop_asked(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

impl Measuring {
    /// Begins to measure `dossier`; results go into `folder` where one is given. `wake` is called when there is news.
    pub(crate) fn begin(
        dossier: Dossier,
        version: u64,
        folder: Option<PathBuf>,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> Self {
        let shared = Arc::new(Shared {
            how_far: Mutex::default(),
            live: Mutex::default(),
            stop: AtomicBool::new(false),
            woken: Mutex::new(Instant::now()),
            wake: Box::new(wake),
        });
        let watch = Arc::clone(&shared);
        let thread = std::thread::spawn(move || {
            let outcome = run(&dossier, folder, watch.as_ref());
            (watch.wake)();
            outcome
        });
        Self { shared, thread: Some(thread), version, since: Instant::now() }
    }

    /// How far it is.
    pub(crate) fn how_far(&self) -> HowFar {
        self.shared.how_far.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Marks of a frame as far as they have come, px; the results have the last word on them.
    pub(crate) fn live(&self, camera: &str, frame: u32) -> Vec<(String, [f64; 2])> {
        let live = self.shared.live.lock().unwrap_or_else(PoisonError::into_inner);
        live.get(&(camera.to_owned(), frame)).cloned().unwrap_or_default()
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
    pub(crate) fn outcome(&mut self) -> Option<Outcome> {
        let thread = self.thread.take_if(|thread| thread.is_finished())?;
        let lost =
            || "The measurement broke off inside the program. The dossier is untouched; please report it.";
        Some(thread.join().unwrap_or_else(|_| Outcome::Failed(lost().to_owned())))
    }
}

impl Drop for Measuring {
    fn drop(&mut self) {
        self.stop();
        if let Some(thread) = self.thread.take() {
            // Nobody waits for its outcome any more.
            let _ = thread.join();
        }
    }
}

fn run(dossier: &Dossier, folder: Option<PathBuf>, watch: &dyn Watch) -> Outcome {
    // Marks stand while only masses or scales are edited. A dossier open for reading gets no new files.
    let program = folder.as_ref().and_then(|_| std::env::current_exe().ok());
    let keep = program.and_then(|program| KeepPasses::of(&dossier.root, &program));
    match filmgauge_dossier::measure(dossier, &RunOptions { keep, ..RunOptions::default() }, watch) {
        Ok(results) => {
            let written = match folder {
                None => Err("The dossier is open for reading only, so no files were written.".to_owned()),
                Some(folder) => {
                    filmgauge_report::write_results(&folder, &results, dossier.template().as_deref())
                        .map_err(|error| format!("The figures are here, but their files are not: {error}"))
                        .and_then(|written| match written.template_fault {
                            None => Ok(folder),
                            Some(fault) => {
                                Err(format!("Measured, but the lab's template does not work: {fault}"))
                            }
                        })
                }
            };
            Outcome::Measured(Box::new(results), written)
        }
        Err(DossierError::Stopped) => Outcome::Stopped,
        Err(error) => Outcome::Failed(error.to_string()),
    }
}
