//! How each frame lies against a reference frame, from what holds still in the picture: ground targets or perforations.

use super::film::Film;
use crate::document::Role;
use crate::plan::{CameraPlan, Plan, SteadyPlan};
use filmgauge_geometry::{FixedMark, Lens, SteadyFilm, SteadyModel, SteadyOptions, ideal_mark, steady_film};
use filmgauge_targets::Outcome;

/// The steps of a camera whose dossier asks for steadying; `Err` says why there are none.
pub(crate) fn steadied(plan: &Plan, camera: &CameraPlan, film: &Film) -> Option<Result<SteadyFilm, String>> {
    match camera.steady.as_ref()? {
        // A camera moves behind its lens: what holds still is compared without the lens' distortion.
        SteadyPlan::Ground => {
            let lens = camera.lens.as_ref().map(|file| file.lens);
            let frames = ground_marks(plan, camera, film, lens.as_ref());
            let mut models = vec![SteadyModel::Turn, SteadyModel::Zoom, SteadyModel::Plane];
            models.extend(lens.as_ref().map(SteadyModel::swing));
            Some(of_marks(&frames, &models, lens))
        }
        // Film moves in its gate as one stiff thing, lens or no lens.
        SteadyPlan::Perforations(_) => Some(of_marks(&film.looks.perforations, &[SteadyModel::Turn], None)),
    }
}

fn of_marks(
    frames: &[Vec<Option<FixedMark>>],
    models: &[SteadyModel],
    lens: Option<Lens>,
) -> Result<SteadyFilm, String> {
    let steadied = steady_film(frames, models, lens, &SteadyOptions::default());
    steadied.ok_or_else(|| "nothing that holds still was found in any frame".into())
}

/// Marks of the targets on the ground, one list for each frame; in ideal pixels where there is a lens.
fn ground_marks(
    plan: &Plan,
    camera: &CameraPlan,
    film: &Film,
    lens: Option<&Lens>,
) -> Vec<Vec<Option<FixedMark>>> {
    let is_ground = |id| plan.body(id).is_some_and(|body| body.role == Role::Ground);
    let tracks: Vec<&Vec<Outcome>> = camera
        .targets
        .iter()
        .zip(&film.outcomes)
        .filter(|(target, _)| !target.deforms && is_ground(&target.body))
        .map(|(_, outcomes)| outcomes)
        .collect();
    let mark = |outcome: &Outcome| {
        let mark = outcome.measured().map(|mark| FixedMark { point: mark.centre, cov: mark.cov })?;
        lens.map_or(Some(mark), |lens| ideal_mark(&mark, lens))
    };
    (0..film.n_frames).map(|frame| tracks.iter().map(|track| mark(&track[frame])).collect()).collect()
}
