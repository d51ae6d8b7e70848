//! How each frame lies against a reference frame, from what holds still in the picture: ground targets or perforations.

use super::film::Film;
use crate::document::Role;
use crate::plan::{CameraPlan, Plan, SteadyPlan};
use filmgauge_geometry::{
    FixedMark, Lens, SteadyEvidence, SteadyModel, SteadyOptions, SteadyRow, SteadyStep, ideal_mark,
    steady_evidence, steady_from_stored, steady_model, steady_table, stored_from_steady,
};
use filmgauge_quantities::{PixelCov, PixelPoint};
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
    /// What the steps are.
    pub(crate) model: SteadyModel,
    /// What spoke for it; empty where there was no choice.
    pub(crate) evidence: Vec<SteadyEvidence>,
    /// Steps are between ideal pixels of this lens; between stored ones when `None`.
    lens: Option<Lens>,
}

impl Steadied {
    /// Where a stored pixel of a frame lies in the reference frame, and the covariance that the step gives it.
    pub(crate) fn steady_from_image(
        &self,
        frame: usize,
        place: PixelPoint,
    ) -> Option<(PixelPoint, PixelCov)> {
        let step = self.steps.get(frame)?.as_ref()?;
        steady_from_stored(place, &PixelCov::default(), step, self.lens.as_ref())
    }

    /// Where a stored pixel of the reference frame lies in a frame.
    pub(crate) fn image_from_steady(&self, frame: usize, place: PixelPoint) -> Option<PixelPoint> {
        stored_from_steady(place, self.steps.get(frame)?.as_ref()?, self.lens.as_ref())
    }
}

/// The steps of a camera whose dossier asks for steadying; `Err` says why there are none.
pub(crate) fn steadied(plan: &Plan, camera: &CameraPlan, film: &Film) -> Option<Result<Steadied, String>> {
    match camera.steady.as_ref()? {
        // A camera moves behind its lens: what holds still is compared without the lens' distortion.
        SteadyPlan::Ground => {
            let lens = camera.lens.as_ref().map(|file| file.lens);
            let frames = ground_marks(plan, camera, film, lens.as_ref());
            let mut models = vec![SteadyModel::Turn, SteadyModel::Zoom, SteadyModel::Plane];
            models.extend(lens.as_ref().map(SteadyModel::swing));
            Some(against_reference(&frames, &models, lens))
        }
        // Film moves in its gate as one stiff thing, lens or no lens.
        SteadyPlan::Perforations(_) => {
            Some(against_reference(&film.looks.perforations, &[SteadyModel::Turn], None))
        }
    }
}

pub(super) fn against_reference(
    frames: &[Vec<Option<FixedMark>>],
    models: &[SteadyModel],
    lens: Option<Lens>,
) -> Result<Steadied, String> {
    let n_marks = |marks: &Vec<Option<FixedMark>>| marks.iter().flatten().count();
    let most = frames.iter().map(n_marks).max().unwrap_or(0);
    if most == 0 {
        return Err("nothing that holds still was found in any frame".into());
    }
    // The first frame that shows most of them.
    let reference = frames.iter().position(|marks| n_marks(marks) == most).unwrap_or(0);
    let options = SteadyOptions::default();
    // A change of perspective has as many numbers as four marks have: it is weighed with five or more.
    let weighed: Vec<SteadyModel> =
        models.iter().copied().filter(|model| 2 * most > model.n_values()).collect();
    let evidence = if weighed.len() > 1 {
        steady_evidence(&frames[reference], frames, &weighed, &options)
    } else {
        Vec::new()
    };
    let usual = models.iter().copied().find(|model| matches!(model, SteadyModel::Swing { .. }));
    let model = steady_model(&evidence, usual.unwrap_or(SteadyModel::Turn));
    let (steps, rows) = steady_table(&frames[reference], frames, &SteadyOptions { model, ..options });
    let steps = steps.into_iter().map(Result::ok).collect();
    Ok(Steadied { steps, rows, reference, model, evidence, lens })
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
