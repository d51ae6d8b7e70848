//! One piece of long work on a thread of its own: how far it is, a stop, and what it came to, once.

use filmgauge_dossier::{LiveMark, Progress, Watch};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Screens are woken no oftener than this.
const WAKE_EVERY: Duration = Duration::from_millis(50);

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

/// What hears of each mark as it is made.
type Marks = Box<dyn Fn(&LiveMark<'_>) + Send + Sync>;

/// Work under way that comes to a `T`.
pub(crate) struct Background<T> {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<T>>,
}

struct Shared {
    how_far: Mutex<HowFar>,
    stop: AtomicBool,
    woken: Mutex<Instant>,
    wake: Box<dyn Fn() + Send + Sync>,
    marks: Marks,
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
        (self.marks)(mark);
    }

    fn stop_asked(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

impl<T: Send + 'static> Background<T> {
    /// Begins `work`, which tells its watcher how far it is. `wake` is called when there is news.
    pub(crate) fn begin(
        work: impl FnOnce(&dyn Watch) -> T + Send + 'static,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> Self {
        Self::with_marks(work, wake, Box::new(|_| ()))
    }

    /// The same, with someone who hears of marks.
    pub(crate) fn with_marks(
        work: impl FnOnce(&dyn Watch) -> T + Send + 'static,
        wake: impl Fn() + Send + Sync + 'static,
        marks: Marks,
    ) -> Self {
        let shared = Arc::new(Shared {
            how_far: Mutex::default(),
            stop: AtomicBool::new(false),
            woken: Mutex::new(Instant::now()),
            wake: Box::new(wake),
            marks,
        });
        let watch = Arc::clone(&shared);
        let thread = std::thread::spawn(move || {
            let outcome = work(watch.as_ref());
            (watch.wake)();
            outcome
        });
        Self { shared, thread: Some(thread) }
    }
}

impl<T> Background<T> {
    /// How far it is.
    pub(crate) fn how_far(&self) -> HowFar {
        self.shared.how_far.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Asks it to stop; it does at its next step.
    pub(crate) fn stop(&self) {
        self.shared.stop.store(true, Ordering::Relaxed);
    }

    /// Whether it was asked to stop.
    pub(crate) fn is_stopping(&self) -> bool {
        self.shared.stop.load(Ordering::Relaxed)
    }

    /// What it came to, once, when it is over; the words for the person where it broke off, beginning with `what`.
    pub(crate) fn outcome(&mut self, what: &str) -> Option<Result<T, String>> {
        let thread = self.thread.take_if(|thread| thread.is_finished())?;
        let lost =
            format!("{what} broke off inside the program. The dossier is untouched; please report it.");
        Some(thread.join().map_err(|_panic| lost))
    }
}

impl<T> Drop for Background<T> {
    fn drop(&mut self) {
        self.stop();
        if let Some(thread) = self.thread.take() {
            // Nobody waits for its outcome any more.
            let _ = thread.join();
        }
    }
}
