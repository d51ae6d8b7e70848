//! Writing a marked film in the background.

use super::background::{Background, HowFar};
use filmgauge_dossier::{Dossier, Watch};
use filmgauge_marked::{MarkedError, MarkedMade, MarkedOptions, marked_film};
use std::path::PathBuf;

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
    work: Background<Marked>,
}

impl Marking {
    /// Begins to write the marked film of `camera` to `path`, whose folder is made; `wake` is called when there is news.
    pub(crate) fn begin(
        dossier: Dossier,
        camera: String,
        path: PathBuf,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> Self {
        let options = MarkedOptions { camera: Some(camera.clone()), ..MarkedOptions::default() };
        let work = move |watch: &dyn Watch| match marked_film(&dossier, &options, &path, watch) {
            Ok(made) => Marked::Made(Box::new(made)),
            Err(error @ MarkedError::Stopped { .. }) => Marked::Stopped(error.to_string()),
            Err(error) => Marked::Failed(error.to_string()),
        };
        Self { camera, work: Background::begin(work, wake) }
    }

    /// Camera.
    pub(crate) fn camera(&self) -> &str {
        &self.camera
    }

    /// How far it is, in frames.
    pub(crate) fn how_far(&self) -> HowFar {
        self.work.how_far()
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
    pub(crate) fn outcome(&mut self) -> Option<Marked> {
        Some(self.work.outcome("Writing the marked film")?.unwrap_or_else(Marked::Failed))
    }
}
