//! Steps of a camera that moves behind its lens: stored pixels are compared and carried as ideal ones.

use super::{FixedMark, SteadyStep, image_from_steady, steady_from_image};
use crate::Lens;
use filmgauge_quantities::{PixelCov, PixelPoint};

/// A fixed mark as a step through the lens takes it; `None` outside the lens' field.
#[must_use]
pub fn ideal_mark(mark: &FixedMark, lens: &Lens) -> Option<FixedMark> {
    let (point, cov) = lens.undistort_mark(mark.point, &mark.cov).ok()?;
    Some(FixedMark { point, cov })
}

/// [`steady_from_image`] for stored pixels, with a step between ideal pixels of `lens`; between stored ones without it.
/// `None` outside the lens' field, and where the step has no inverse.
#[must_use]
pub fn steady_from_stored(
    stored: PixelPoint,
    cov: &PixelCov,
    step: &SteadyStep,
    lens: Option<&Lens>,
) -> Option<(PixelPoint, PixelCov)> {
    let Some(lens) = lens else { return steady_from_image(stored, cov, step) };
    let (ideal, cov) = lens.undistort_mark(stored, cov).ok()?;
    let (at, cov) = steady_from_image(ideal, &cov, step)?;
    Some(lens.distort_mark(at, &cov))
}

/// Where a stored pixel of the reference frame lies in a frame; the inverse of [`steady_from_stored`].
#[must_use]
pub fn stored_from_steady(stored: PixelPoint, step: &SteadyStep, lens: Option<&Lens>) -> Option<PixelPoint> {
    let Some(lens) = lens else { return Some(image_from_steady(stored, step)) };
    Some(lens.distort(image_from_steady(lens.undistort(stored).ok()?, step)))
}
