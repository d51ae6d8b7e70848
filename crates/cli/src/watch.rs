//! Progress on the terminal and a clean stop on Ctrl-C.

use filmgauge_dossier::{Progress, Watch};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};

static STOP: OnceLock<Arc<AtomicBool>> = OnceLock::new();

/// The flag that Ctrl-C raises; the handler is set once per process.
pub(crate) fn stop_flag() -> Arc<AtomicBool> {
    Arc::clone(STOP.get_or_init(|| {
        let flag = Arc::new(AtomicBool::new(false));
        let raised = Arc::clone(&flag);
        // Without a handler Ctrl-C still ends the program; files are only ever put in place whole.
        let _ = ctrlc::set_handler(move || raised.store(true, Ordering::SeqCst));
        flag
    }))
}

/// Shows progress on stderr when that is a terminal.
pub(crate) struct Terminal {
    bar: ProgressBar,
    stop: Arc<AtomicBool>,
}

impl Terminal {
    pub(crate) fn new() -> Self {
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr());
        let style = ProgressStyle::with_template("{msg} {wide_bar} {pos}/{len} {per_sec}");
        bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
        Self { bar, stop: stop_flag() }
    }

    /// Takes the bar off the terminal.
    pub(crate) fn clear(&self) {
        self.bar.finish_and_clear();
    }
}

impl Watch for Terminal {
    fn progress(&self, progress: &Progress<'_>) {
        self.bar.set_message(progress.step.to_owned());
        if let Some(total) = progress.total {
            self.bar.set_length(total);
        }
        self.bar.set_position(progress.done);
    }

    fn stop_asked(&self) -> bool {
        self.stop.load(Ordering::SeqCst)
    }
}
