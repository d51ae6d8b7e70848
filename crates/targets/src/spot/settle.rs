//! An ellipse settled on a rim, and what kind of target it holds.

use super::ellipse::{Ellipse, Quality};
use super::judge::{Sought, Verdict};
use super::patterns;
use super::pyramid::Pyramid;
use super::rays::Rays;
use super::rim::{Change, Rim};
use filmgauge_quantities::TargetKind;

/// Step between rings, of the radius.
const FINE_STEP: f64 = 0.05;
/// Where the finer look seeks the rim and how far out it reads, of the radius.
const RIM: (f64, f64) = (0.75, 1.3);
const FINE_REACH: f64 = 1.4;
/// Greatest root mean square distance of the rim's places from their ellipse, of the radius.
const GREATEST_RESIDUAL: f64 = 0.065;
/// Least share of the rays whose rim lies on the ellipse, where some of it may not show against the ground, and of a disc
/// or ring, whose rim shows all round: a square has less.
const LEAST_RIM_SHARE: f64 = 0.6;
const LEAST_ROUND_SHARE: f64 = 0.88;
/// Least share of the rays whose rim lies on the first conic, before it is settled.
const LEAST_START_SHARE: f64 = 0.5;
/// Least share of a rim's neighbouring places that lie about as far out as each other, of a pattern, and of a disc or ring
/// whose rim shows all round.
const STEADY_SHARE: f64 = 0.4;
const STEADY_ROUND_SHARE: f64 = 0.6;

/// An ellipse that lies on a rim.
pub(super) struct Settled<'a> {
    ellipse: Ellipse,
    quality: Quality,
    change: Change,
    rays: Rays<'a>,
}

/// The ellipse settled on a rim that was met by the rays of `circle` and changes outwards as said.
pub(super) fn settled<'a>(
    pyramid: &'a Pyramid,
    circle: &Ellipse,
    rim: &Rim,
    change: Change,
    sought: &Sought,
) -> Option<Settled<'a>> {
    let is_pattern = change == Change::Either;
    if rim.steadiness() < if is_pattern { STEADY_SHARE } else { STEADY_ROUND_SHARE } {
        return None;
    }
    let (mut ellipse, mut quality) = circle.refitted(&rim.places, rim.n_rays, LEAST_START_SHARE)?;
    if !is_sound(&ellipse, quality, 2.5 * GREATEST_RESIDUAL, sought) {
        return None;
    }
    for _ in 0..2 {
        let rays =
            Rays::band(pyramid, &ellipse, (RIM.0 - 2.0 * FINE_STEP, RIM.1 + 2.0 * FINE_STEP), FINE_STEP);
        let rim = rays.rim(RIM.0, RIM.1, change);
        (ellipse, quality) = ellipse.refitted(&rim.places, rim.n_rays, LEAST_START_SHARE)?;
    }
    let (long, _, _) = ellipse.axes();
    if !sought.radii.contains(&long) || !is_sound(&ellipse, quality, GREATEST_RESIDUAL, sought) {
        return None;
    }
    let rays = Rays::cast(pyramid, &ellipse, FINE_REACH, FINE_STEP);
    Some(Settled { ellipse, quality, change, rays })
}

impl Settled<'_> {
    /// How much what the ellipse holds is like a kind.
    pub(super) fn verdict(&self, kind: TargetKind, sought: &Sought) -> Option<Verdict> {
        let is_round = matches!(kind, TargetKind::Disc | TargetKind::Ring);
        let least_share = if is_round { LEAST_ROUND_SHARE } else { LEAST_RIM_SHARE };
        if !sought.wants(kind) || self.quality.share < least_share {
            return None;
        }
        let likeness = match kind {
            TargetKind::Disc => patterns::disc(&self.rays, self.change),
            TargetKind::Ring => patterns::ring(&self.rays, self.change),
            TargetKind::Quadrant => patterns::quadrant(&self.rays),
            TargetKind::Cross => patterns::cross(&self.rays),
            TargetKind::Patch => None,
        }?;
        let is_like = likeness.score >= sought.least_score && likeness.contrast >= sought.least_contrast;
        let (_, short_px, _) = self.ellipse.axes();
        let (ellipse, quality) = (self.ellipse, self.quality);
        is_like.then_some(Verdict { kind, ellipse, quality, likeness, short_px })
    }
}

fn is_sound(ellipse: &Ellipse, quality: Quality, residual: f64, sought: &Sought) -> bool {
    let (long, short, _) = ellipse.axes();
    // A first rim may be a little flatter than the settled one.
    short >= (sought.least_axis_ratio - 0.06) * long
        && quality.residual <= residual
        && quality.share >= LEAST_RIM_SHARE
}
