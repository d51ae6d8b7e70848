//! Marks of one camera as the plane needs them: steadied, and carried to their frame's time.

use super::evaluate::Inputs;
use super::shutter::{ImageMark, at_frame_time};
use filmgauge_geometry::SteadyFilm;
use filmgauge_quantities::{PixelCov, PixelPoint};
use filmgauge_targets::Outcome;

/// The marks of every target of the plan, frame by frame. A step's own doubt is not in them: it is common to all marks
/// of a frame, see [`step_cov`].
pub(super) fn image_marks(inputs: &Inputs<'_>, times_s: &[f64]) -> Vec<Vec<Option<ImageMark>>> {
    let of_target = |outcomes: &Vec<Outcome>| -> Vec<Option<ImageMark>> {
        // Inferred marks follow from the others of their body: as data they would count twice.
        let read = outcomes.iter().enumerate().map(|(frame, outcome)| {
            let mark = outcome.measured()?;
            steadied(inputs.steadied, frame, (mark.centre, mark.cov))
        });
        let marks: Vec<Option<ImageMark>> = read.collect();
        if inputs.shutter.row_s == 0.0 { marks } else { at_frame_time(&marks, times_s, inputs.shutter) }
    };
    inputs.film.outcomes.iter().map(of_target).collect()
}

/// `None` in a frame that could not be steadied: its marks belong to an unknown place.
fn steadied(steadied: Option<&SteadyFilm>, frame: usize, mark: ImageMark) -> Option<ImageMark> {
    let Some(steadied) = steadied else { return Some(mark) };
    Some((steadied.steady_from_image(frame, mark.0)?.0, mark.1))
}

/// Covariance that a frame's step gives to everything at `point`, px²; `None` without steadying.
pub(super) fn step_cov(inputs: &Inputs<'_>, frame: usize, point: PixelPoint) -> Option<PixelCov> {
    Some(inputs.steadied?.steady_from_image(frame, point)?.1)
}
