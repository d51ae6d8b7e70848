//! Each frame's own shift and turn, from what holds still in the picture: ground targets or perforations.

use super::film::Film;
use crate::document::Role;
use crate::plan::{CameraPlan, Plan, SteadyPlan};
use filmgauge_geometry::{FixedMark, SteadyOptions, SteadyRow, SteadyStep, steady_table};
use filmgauge_targets::Outcome;

/// The steps of one film.
#[derive(Debug, Clone)]
pub(crate) struct Steadied {
    /// The step of each frame; `None` where there is none.
    pub(crate) steps: Vec<Option<SteadyStep>>,
    /// The same as a table, with reasons.
    pub(crate) rows: Vec<SteadyRow>,
    /// Frame that the others are compared with.
    pub(crate) reference: usize,
}

/// The steps of a camera whose dossier asks for steadying; `Err` says why there are none.
pub(crate) fn steadied(plan: &Plan, camera: &CameraPlan, film: &Film) -> Option<Result<Steadied, String>> {
    let frames = match camera.steady.as_ref()? {
        SteadyPlan::Ground => ground_marks(plan, camera, film),
        SteadyPlan::Perforations(_) => film.looks.perforations.clone(),
    };
    Some(against_reference(&frames))
}

fn against_reference(frames: &[Vec<Option<FixedMark>>]) -> Result<Steadied, String> {
    let n_marks = |marks: &Vec<Option<FixedMark>>| marks.iter().flatten().count();
    let most = frames.iter().map(n_marks).max().unwrap_or(0);
    if most == 0 {
        return Err("nothing that holds still was found in any frame".into());
    }
    // The first frame that shows most of them.
    let reference = frames.iter().position(|marks| n_marks(marks) == most).unwrap_or(0);
    let (steps, rows) = steady_table(&frames[reference], frames, &SteadyOptions::default());
    Ok(Steadied { steps: steps.into_iter().map(Result::ok).collect(), rows, reference })
}

/// Marks of the targets on the ground, one list for each frame.
fn ground_marks(plan: &Plan, camera: &CameraPlan, film: &Film) -> Vec<Vec<Option<FixedMark>>> {
    let is_ground = |id| plan.body(id).is_some_and(|body| body.role == Role::Ground);
    let tracks: Vec<&Vec<Outcome>> = camera
        .targets
        .iter()
        .zip(&film.outcomes)
        .filter(|(target, _)| !target.deforms && is_ground(&target.body))
        .map(|(_, outcomes)| outcomes)
        .collect();
    let mark =
        |outcome: &Outcome| outcome.measured().map(|mark| FixedMark { point: mark.centre, cov: mark.cov });
    (0..film.n_frames).map(|frame| tracks.iter().map(|track| mark(&track[frame])).collect()).collect()
}
