//! A whole film steadied: reference frame and model chosen from its fixed marks, then every frame's step.

use super::{
    FixedMark, SteadyEvidence, SteadyModel, SteadyOptions, SteadyRow, SteadyStep, steady_evidence,
    steady_from_stored, steady_model, steady_table, stored_from_steady,
};
use crate::Lens;
use filmgauge_quantities::{PixelCov, PixelPoint};

/// The steps of one film.
#[derive(Debug, Clone)]
pub struct SteadyFilm {
    /// The step of each frame; `None` where there is none.
    pub steps: Vec<Option<SteadyStep>>,
    /// The same as a table, with reasons.
    pub rows: Vec<SteadyRow>,
    /// Frame that the others are compared with.
    pub reference: usize,
    /// What the steps are.
    pub model: SteadyModel,
    /// What spoke for it; empty where there was no choice.
    pub evidence: Vec<SteadyEvidence>,
    /// Steps are between ideal pixels of this lens; between stored ones when `None`.
    pub lens: Option<Lens>,
}

impl SteadyFilm {
    /// Where a stored pixel of a frame lies in the reference frame, and the covariance that the step gives it, px².
    /// `None` in a frame without a step and outside the lens' field.
    #[must_use]
    pub fn steady_from_image(&self, frame: usize, place: PixelPoint) -> Option<(PixelPoint, PixelCov)> {
        let step = self.steps.get(frame)?.as_ref()?;
        steady_from_stored(place, &PixelCov::default(), step, self.lens.as_ref())
    }

    /// Where a stored pixel of the reference frame lies in a frame; the inverse of [`SteadyFilm::steady_from_image`].
    #[must_use]
    pub fn image_from_steady(&self, frame: usize, place: PixelPoint) -> Option<PixelPoint> {
        stored_from_steady(place, self.steps.get(frame)?.as_ref()?, self.lens.as_ref())
    }
}

/// Steadies a film. `frames` holds each frame's fixed marks in one order, in ideal pixels where there is a lens (see
/// [`super::ideal_mark`]); the frame that shows most of them, the first of these, is the reference. The best of `models`
/// by [`steady_evidence`] is used; where there is no choice, the swing if it is among them, else shift and turn.
/// `None` when no frame has a mark.
#[must_use]
pub fn steady_film(
    frames: &[Vec<Option<FixedMark>>],
    models: &[SteadyModel],
    lens: Option<Lens>,
    options: &SteadyOptions,
) -> Option<SteadyFilm> {
    let n_marks = |marks: &Vec<Option<FixedMark>>| marks.iter().flatten().count();
    let most = frames.iter().map(n_marks).max().filter(|&most| most > 0)?;
    let reference = frames.iter().position(|marks| n_marks(marks) == most)?;
    // A change of perspective has as many numbers as four marks have: it is weighed with five or more.
    let weighed: Vec<SteadyModel> =
        models.iter().copied().filter(|model| 2 * most > model.n_values()).collect();
    let evidence = if weighed.len() > 1 {
        steady_evidence(&frames[reference], frames, &weighed, options)
    } else {
        Vec::new()
    };
    let usual = models.iter().copied().find(|model| matches!(model, SteadyModel::Swing { .. }));
    let model = steady_model(&evidence, usual.unwrap_or(SteadyModel::Turn));
    let (steps, rows) = steady_table(&frames[reference], frames, &SteadyOptions { model, ..options.clone() });
    let steps = steps.into_iter().map(Result::ok).collect();
    Some(SteadyFilm { steps, rows, reference, model, evidence, lens })
}
