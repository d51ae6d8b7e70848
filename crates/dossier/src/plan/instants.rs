//! Plans gaps and events: the analyst's word about stretches and instants of a film.

use super::cameras::CameraPlan;
use super::names;
use crate::document::{EventEntry, GapEntry};
use crate::error::DossierError;
use crate::lines::Step::{Item, Key};
use crate::load::Dossier;
use filmgauge_quantities::GapCause;
use std::ops::RangeInclusive;

/// A stretch of a target's frames whose marks are set aside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GapPlan {
    /// Place of the target among its camera's.
    pub target: usize,
    /// Frames from first to last.
    pub frames: RangeInclusive<u32>,
    /// Cause that the analyst gives.
    pub cause: GapCause,
}

/// Gives every gap to its camera.
pub(super) fn plan_gaps(dossier: &Dossier, cameras: &mut [CameraPlan]) -> Result<(), DossierError> {
    for (index, entry) in dossier.document.gap.iter().enumerate() {
        plan_gap(dossier, index, entry, cameras)?;
    }
    Ok(())
}

fn plan_gap(
    dossier: &Dossier,
    index: usize,
    entry: &GapEntry,
    cameras: &mut [CameraPlan],
) -> Result<(), DossierError> {
    let at = |key| [Key("gap"), Item(index), Key(key)];
    known_camera(dossier, "gap", index, &entry.camera)?;
    let Some(camera) = cameras.iter_mut().find(|camera| camera.id.as_str() == entry.camera) else {
        return Ok(());
    };
    let Some(target) = camera.targets.iter().position(|target| target.id.as_str() == entry.target) else {
        let there = names(camera.targets.iter().map(|target| target.id.as_str()));
        let what = format!("camera {} has no target \"{}\"", entry.camera, entry.target);
        return Err(dossier.fault(&at("target"), what, format!("Name a target of the camera ({there})")));
    };
    let [first, last] = entry.frames;
    if first > last {
        let what = format!("the gap ends at frame {last}, before it starts at {first}");
        return Err(dossier.fault(&at("frames"), what, "Give the first frame, then the last".into()));
    }
    if entry.cause == GapCause::BeforeStart {
        let what = "before_start is no cause that a person can give".into();
        return Err(dossier.fault(&at("cause"), what, "Move the target's start instead".into()));
    }
    camera.gaps.push(GapPlan { target, frames: first..=last, cause: entry.cause });
    Ok(())
}

/// Refuses events of a camera that is not there, without a name, or with a name that is taken.
pub(super) fn check_events(dossier: &Dossier) -> Result<(), DossierError> {
    let events: &[EventEntry] = &dossier.document.event;
    for (index, entry) in events.iter().enumerate() {
        let at = |key| [Key("event"), Item(index), Key(key)];
        known_camera(dossier, "event", index, &entry.camera)?;
        if entry.id.trim().is_empty() {
            let remedy = "Give it a short name, such as \"door opens\"".into();
            return Err(dossier.fault(&at("id"), "the event has no name".into(), remedy));
        }
        if events[..index].iter().any(|other| other.id == entry.id) {
            let what = format!("event {} is listed twice", entry.id);
            return Err(dossier.fault(&at("id"), what, "Rename one".into()));
        }
    }
    Ok(())
}

fn known_camera(dossier: &Dossier, table: &str, index: usize, camera: &str) -> Result<(), DossierError> {
    if dossier.document.camera.iter().any(|other| other.id == camera) {
        return Ok(());
    }
    let there = names(dossier.document.camera.iter().map(|camera| camera.id.as_str()));
    let what = format!("the {table} names camera \"{camera}\", which does not exist");
    let path = [Key(table), Item(index), Key("camera")];
    Err(dossier.fault(&path, what, format!("Name a camera ({there})")))
}
