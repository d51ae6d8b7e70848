//! Packing a measured dossier, and proving its results, in the background.

use super::background::Background;
use filmgauge_dossier::Watch;
use filmgauge_handover::{HandoverError, PackOptions, Recheck, RecheckOptions};
use std::path::{Path, PathBuf};

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
    work: Background<Handed>,
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
        let work = move |watch: &dyn Watch| {
            let outcome = match job {
                HandoverJob::Pack { with_footage } => packed(&root, archive, with_footage, watch),
                HandoverJob::Recheck => {
                    let options = RecheckOptions::default();
                    filmgauge_handover::recheck(&dossier, &options, watch).map(Handed::Rechecked)
                }
            };
            outcome.unwrap_or_else(|error| match error {
                HandoverError::Stopped => Handed::Stopped,
                error => Handed::Failed(error.to_string()),
            })
        };
        Self { job, work: Background::begin(work, wake) }
    }

    /// What is being done.
    pub(crate) fn how_far(&self) -> String {
        let how_far = self.work.how_far();
        let total = how_far.total.map_or_else(String::new, |total| format!(" of {total}"));
        format!("{}: {}{total}", how_far.step, how_far.done)
    }

    /// Asks it to stop; nothing is left of it then.
    pub(crate) fn stop(&self) {
        self.work.stop();
    }

    /// What it came to, once, when it is over.
    pub(crate) fn outcome(&mut self) -> Option<Handed> {
        Some(self.work.outcome("The hand-over")?.unwrap_or_else(Handed::Failed))
    }
}

fn packed(
    root: &Path,
    archive: PathBuf,
    with_footage: bool,
    watch: &dyn Watch,
) -> Result<Handed, HandoverError> {
    let results = root.join("results");
    let manifest = filmgauge_handover::pack((root, &results), PackOptions { with_footage }, &archive, watch)?;
    let by_hash = manifest.files.iter().filter(|file| !file.included).count();
    Ok(Handed::Packed(archive, [manifest.files.len(), by_hash]))
}
