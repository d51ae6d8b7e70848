//! Measuring in the background: dossier in, results and their files out.

use super::background::{Background, HowFar};
use filmgauge_dossier::{Dossier, DossierError, KeepPasses, RunOptions, Watch};
use filmgauge_results::Results;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

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

/// A measurement that is under way.
pub(crate) struct Measuring {
    work: Background<Outcome>,
    live: Arc<Mutex<Live>>,
    /// Version of the workbook that is measured.
    pub(crate) version: u64,
    /// When it began.
    pub(crate) since: Instant,
}

/// Places of targets by camera and frame, px.
type Live = BTreeMap<(String, u32), Vec<(String, [f64; 2])>>;

impl Measuring {
    /// Begins to measure `dossier`; results go into `folder` where one is given. `wake` is called when there is news.
    pub(crate) fn begin(
        dossier: Dossier,
        version: u64,
        folder: Option<PathBuf>,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> Self {
        let live = Arc::new(Mutex::new(Live::new()));
        let told = Arc::clone(&live);
        let work = Background::with_marks(
            move |watch| run(&dossier, folder, watch),
            wake,
            Box::new(move |mark| {
                let place = (mark.target.to_string(), [mark.centre.x, mark.centre.y]);
                let mut live = told.lock().unwrap_or_else(PoisonError::into_inner);
                live.entry((mark.camera.to_string(), mark.frame.0)).or_default().push(place);
            }),
        );
        Self { work, live, version, since: Instant::now() }
    }

    /// How far it is.
    pub(crate) fn how_far(&self) -> HowFar {
        self.work.how_far()
    }

    /// Marks of a frame as far as they have come, px; the results have the last word on them.
    pub(crate) fn live(&self, camera: &str, frame: u32) -> Vec<(String, [f64; 2])> {
        let live = self.live.lock().unwrap_or_else(PoisonError::into_inner);
        live.get(&(camera.to_owned(), frame)).cloned().unwrap_or_default()
    }

    /// Asks it to stop; it does at the next frame.
    pub(crate) fn stop(&self) {
        self.work.stop();
    }

    /// Whether it was asked to stop.
    pub(crate) fn is_stopping(&self) -> bool {
        self.work.is_stopping()
    }

    /// What it came to, once, when it is over.
    pub(crate) fn outcome(&mut self) -> Option<Outcome> {
        Some(self.work.outcome("The measurement")?.unwrap_or_else(Outcome::Failed))
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
