//! Rehearse, measure, compare: one seed at a time, then over many.

mod clocks;
mod compare;
pub mod crosscheck;
pub mod findings;
pub mod follow;
pub mod geometry;
pub mod lens;
pub mod locate;
pub mod motion;
mod page;
mod scenes;
pub mod spot;
mod tables;
pub mod texture;

pub use clocks::{ClockRow, clock_rows, clocks_section};
pub use compare::{Error, MarkErrors, Outcome, compare};
pub use page::{SECTIONS, put_section};
pub use scenes::{PlantedCase, scene};
pub use tables::{Summary, inside, rms, summary, tests_section};

use anyhow::Context;
use filmgauge_dossier::{Dossier, RunOptions, Unwatched};
use filmgauge_footage::Encoding;
use filmgauge_proving::Scene;
use filmgauge_results::Results;
use std::path::Path;

/// Renders a scene without loss into `folder`, measures it and compares every figure with the truth.
///
/// # Errors
/// When the rehearsal cannot be written or the dossier cannot be measured: both are failures of the program.
pub fn rehearsed(scene: Scene, folder: &Path) -> anyhow::Result<(Results, Outcome)> {
    let done = filmgauge_cli::rehearse(scene, folder, Encoding::Ffv1, &Unwatched)?;
    let dossier = Dossier::read(folder).context("the rehearsal's own dossier must be readable")?;
    let results = filmgauge_dossier::measure(&dossier, &RunOptions::default(), &Unwatched)?;
    let outcome = compare(&done.scene, &done.truth, &results);
    Ok((results, outcome))
}
