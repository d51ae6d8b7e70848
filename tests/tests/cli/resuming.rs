//! A measurement that was stopped goes on: a film that was followed to its end is not followed again, and the results are
//! the same as without a stop.

use crate::rehearsal::{Copy, rehearsal};
use anyhow::{Result, ensure};
use filmgauge_dossier::{Dossier, DossierError, KeepPasses, Progress, RunOptions, Watch, measure};
use filmgauge_results::Results;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

/// Stops at a step, and knows whether a film was followed.
struct Stopper {
    at: Option<&'static str>,
    reached: AtomicBool,
    followed: AtomicBool,
}

impl Stopper {
    fn at(at: Option<&'static str>) -> Self {
        Self { at, reached: AtomicBool::new(false), followed: AtomicBool::new(false) }
    }
}

impl Watch for Stopper {
    fn progress(&self, progress: &Progress<'_>) {
        if progress.step.contains("following") {
            self.followed.store(true, Ordering::SeqCst);
        }
        if self.at.is_some_and(|at| progress.step.contains(at)) {
            self.reached.store(true, Ordering::SeqCst);
        }
    }

    fn stop_asked(&self) -> bool {
        self.reached.load(Ordering::SeqCst)
    }
}

/// Results, and whether the film was followed for them.
fn run(root: &Path, keep: &KeepPasses) -> Result<(Results, bool)> {
    let options = RunOptions { keep: Some(keep.clone()), ..RunOptions::default() };
    let watch = Stopper::at(None);
    let results = measure(&Dossier::read(root)?, &options, &watch)?;
    Ok((results, watch.followed.into_inner()))
}

fn stopped(root: &Path, keep: &KeepPasses, at: &'static str) -> Result<()> {
    let options = RunOptions { keep: Some(keep.clone()), ..RunOptions::default() };
    let ended = measure(&Dossier::read(root)?, &options, &Stopper::at(Some(at)));
    ensure!(matches!(ended, Err(DossierError::Stopped)), "it did not stop at {at}");
    Ok(())
}

#[test]
fn a_stopped_measurement_goes_on_with_the_same_results() -> Result<()> {
    let copy = Copy::new()?;
    let keep = KeepPasses { folder: copy.path("passes"), software: "build 1".into() };
    let root = copy.path("");
    stopped(&root, &keep, "following")?;
    ensure!(!keep.folder.exists(), "half a pass was kept");
    let whole = measure(&Dossier::read(rehearsal()?)?, &RunOptions::default(), &Stopper::at(None))?;
    stopped(&root, &keep, "error budget")?;
    let (resumed, followed) = run(&root, &keep)?;
    ensure!(!followed, "the film was followed again");
    ensure!(format!("{resumed:?}") == format!("{whole:?}"), "results differ");
    // What no mark rests on may change in between.
    copy.edit("mass_kg = 118", "mass_kg = 119")?;
    ensure!(!run(&root, &keep)?.1, "a mass made the film be followed again");
    Ok(())
}

#[test]
fn a_kept_pass_is_used_only_where_all_that_it_rests_on_is_the_same() -> Result<()> {
    let copy = Copy::new()?;
    let keep = KeepPasses { folder: copy.path("passes"), software: "build 1".into() };
    let root = copy.path("");
    stopped(&root, &keep, "error budget")?;
    let other = KeepPasses { software: "build 2".into(), ..keep.clone() };
    ensure!(run(&root, &other)?.1, "another build's pass was used");
    ensure!(run(&root, &keep)?.1, "the first build used the second's pass");
    let pass = copy.path("passes/side.pass");
    let mut bytes = std::fs::read(&pass)?;
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    std::fs::write(&pass, &bytes)?;
    ensure!(run(&root, &keep)?.1, "a damaged pass was used");
    std::fs::write(&pass, &bytes[..20])?;
    ensure!(run(&root, &keep)?.1, "a torn pass was used");
    copy.edit("radius_px = 10.", "radius_px = 11.")?;
    ensure!(run(&root, &keep)?.1, "a larger target was not followed again");
    let mut film = std::fs::read(copy.path("footage/side.mkv"))?;
    film.push(0);
    copy.put("footage/side.mkv", film)?;
    ensure!(run(&root, &keep)?.1, "other footage was not followed again");
    Ok(())
}

#[test]
fn the_command_line_leaves_no_pass_behind() -> Result<()> {
    let copy = Copy::new()?;
    copy.measure()?;
    ensure!(!copy.path("passes").exists(), "passes were left behind");
    Ok(())
}
