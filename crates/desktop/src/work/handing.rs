//! Packing a measured dossier, and proving its results, in the background.

use filmgauge_dossier::{Progress, Watch};
use filmgauge_handover::{HandoverError, PackOptions, Recheck, RecheckOptions};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Screens are woken no oftener than this.
const WAKE_EVERY: Duration = Duration::from_millis(50);

/// What is to be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum HandoverJob {
    /// Pack the dossier with its results.
    Pack {
        /// Footage too, not by its hash alone.
        with_footage: bool,
    },
    /// Measure again and compare.
    Recheck,
}

/// What it came to.
#[derive(Debug, Clone)]
pub(crate) enum Handed {
    /// An archive: its path, its files, and how many of them stand in it by their hash alone.
    Packed(PathBuf, [usize; 2]),
    /// Results measured again and compared.
    Rechecked(Recheck),
    /// It was stopped.
    Stopped,
    /// It could not be done.
    Failed(String),
}

/// Packing or proving that is under way.
pub(crate) struct Handing {
    /// Which of them.
    pub(crate) job: HandoverJob,
    shared: Arc<Shared>,
    thread: Option<JoinHandle<Handed>>,
}

struct Shared {
    step: Mutex<(String, Instant)>,
    stop: AtomicBool,
    wake: Box<dyn Fn() + Send + Sync>,
}

impl Watch for Shared {
    fn progress(&self, progress: &Progress<'_>) {
        let total = progress.total.map_or_else(String::new, |total| format!(" of {total}"));
        let mut step = self.step.lock().unwrap_or_else(PoisonError::into_inner);
        step.0 = format!("{}: {}{total}", progress.step, progress.done);
        if step.1.elapsed() > WAKE_EVERY {
            step.1 = Instant::now();
            (self.wake)();
        }
    }

    fn stop_asked(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

impl Handing {
    /// Begins `job` for the dossier in `root`; `archive` is where one is to lie. `wake` is called when there is news.
    pub(crate) fn begin(
        job: HandoverJob,
        root: PathBuf,
        dossier: PathBuf,
        archive: PathBuf,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> Self {
        let step = Mutex::new((String::new(), Instant::now()));
        let shared = Arc::new(Shared { step, stop: AtomicBool::new(false), wake: Box::new(wake) });
        let watch = Arc::clone(&shared);
        let thread = std::thread::spawn(move || {
            let outcome = match job {
                HandoverJob::Pack { with_footage } => {
                    let options = PackOptions { with_footage };
                    let results = root.join("results");
                    filmgauge_handover::pack((&root, &results), options, &archive, watch.as_ref()).map(
                        |manifest| {
                            let by_hash = manifest.files.iter().filter(|file| !file.included).count();
                            Handed::Packed(archive, [manifest.files.len(), by_hash])
                        },
                    )
                }
                HandoverJob::Recheck => {
                    let options = RecheckOptions::default();
                    filmgauge_handover::recheck(&dossier, &options, watch.as_ref()).map(Handed::Rechecked)
                }
            };
            (watch.wake)();
            match outcome {
                Ok(handed) => handed,
                Err(HandoverError::Stopped) => Handed::Stopped,
                Err(error) => Handed::Failed(error.to_string()),
            }
        });
        Self { job, shared, thread: Some(thread) }
    }

    /// What is being done.
    pub(crate) fn how_far(&self) -> String {
        self.shared.step.lock().unwrap_or_else(PoisonError::into_inner).0.clone()
    }

    /// Asks it to stop; nothing is left of it then.
    pub(crate) fn stop(&self) {
        self.shared.stop.store(true, Ordering::Relaxed);
    }

    /// What it came to, once, when it is over.
    pub(crate) fn outcome(&mut self) -> Option<Handed> {
        let thread = self.thread.take_if(|thread| thread.is_finished())?;
        let lost = "It broke off inside the program. The dossier is untouched; please report it.";
        Some(thread.join().unwrap_or_else(|_| Handed::Failed(lost.to_owned())))
    }
}

impl Drop for Handing {
    fn drop(&mut self) {
        self.stop();
        if let Some(thread) = self.thread.take() {
            // Nobody waits for its outcome any more.
            let _ = thread.join();
        }
    }
}
