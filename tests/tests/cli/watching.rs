//! What a watcher of a measurement hears: marks as they are made; and that listening changes nothing.

use crate::rehearsal::rehearsal;
use anyhow::{Result, ensure};
use filmgauge_dossier::{Dossier, LiveMark, Progress, RunOptions, Unwatched, Watch, measure};
use filmgauge_quantities::MarkState;
use std::collections::BTreeMap;
use std::sync::Mutex;

/// Target and frame, and the place and state that were told.
type Told = BTreeMap<(String, u32), (f64, f64, MarkState)>;

#[derive(Default)]
struct Listener {
    told: Mutex<(u32, Told)>,
}

impl Watch for Listener {
    fn progress(&self, _progress: &Progress<'_>) {}

    fn mark(&self, mark: &LiveMark<'_>) {
        let Ok(mut told) = self.told.lock() else { return };
        assert!(mark.camera.as_str() == "side" && mark.frame.0 >= told.0, "frames come in order");
        told.0 = mark.frame.0;
        let place = (mark.centre.x, mark.centre.y, mark.state);
        told.1.insert((mark.target.to_string(), mark.frame.0), place);
    }

    fn stop_asked(&self) -> bool {
        false
    }
}

#[test]
fn a_watcher_hears_of_every_mark_as_it_is_made() -> Result<()> {
    let dossier = Dossier::read(rehearsal()?)?;
    let listener = Listener::default();
    let watched = measure(&dossier, &RunOptions::default(), &listener)?;
    let unwatched = measure(&dossier, &RunOptions::default(), &Unwatched)?;
    ensure!(watched.marks == unwatched.marks && watched.findings == unwatched.findings, "results differ");
    let (_, told) = listener.told.into_inner().map_err(|fault| anyhow::anyhow!("{fault}"))?;
    let measured = watched.marks.iter().filter(|mark| mark.state != "inferred");
    let mut n_late = 0;
    for mark in measured {
        match told.get(&(mark.target.clone(), mark.frame)) {
            Some(&(x, y, state)) => {
                ensure!(state == MarkState::Found, "{mark:?} was told as {state:?}");
                ensure!((x, y) == (mark.x_px, mark.y_px), "{mark:?} was told at {x}, {y}");
            }
            // Found by looking back after a gap.
            None => n_late += 1,
        }
    }
    ensure!(told.len() > 900 && n_late * 50 < told.len(), "{} told, {n_late} found later", told.len());
    Ok(())
}
