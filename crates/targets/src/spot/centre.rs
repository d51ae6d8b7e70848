//! The centre of what was recognised: by the symmetry of its pattern, or by its rim.

use super::judge::Verdict;
use super::{CentreBy, Spot, rays};
use crate::locate::{CirclePose, LocateOptions, TargetHint, locate_target};
use filmgauge_quantities::{GreyView, PixelCov, TargetKind};

/// Focal length of the far camera that stands in for the unknown one where only the slant counts, px.
const FAR_PX: f64 = 1e6;
/// Smear that is allowed for where a rim fades, of the radius.
const SOFT_SHARE: f64 = 0.3;
/// Neighbouring places of a rim that err alike, since the same ground shades them.
const RIM_ALIKE: f64 = 4.0;

/// The fine centre of what was recognised; `None` where none is to be had.
pub(super) fn located(view: &GreyView, verdict: &Verdict) -> Option<Spot> {
    let ellipse = &verdict.ellipse;
    let (long, short, (x, y)) = ellipse.axes();
    let cosine = (short / long).min(1.0);
    let sine = (1.0 - cosine * cosine).sqrt();
    let pose = CirclePose {
        focal_px: FAR_PX,
        axis: ellipse.centre,
        normal: [sine * x, sine * y, cosine],
        edges: Vec::new(),
        u_share: 0.0,
    };
    let smear_px = if verdict.likeness.is_soft { SOFT_SHARE * long } else { 0.0 };
    let hint = TargetHint { pose: Some(pose), smear_px, ..TargetHint::new(verdict.kind, long) };
    let is_round = matches!(verdict.kind, TargetKind::Disc | TargetKind::Ring);
    let options = LocateOptions {
        search_px: (0.03 * long).clamp(1.5, 4.0),
        // A round target's only edges meet the ground, of which nothing is known.
        ground_may_differ: is_round,
        ..LocateOptions::default()
    };
    let found = locate_target(view, ellipse.centre, &hint, &options).ok();
    let near = found.filter(|found| found.centre.distance(ellipse.centre) < (0.15 * long).max(1.5));
    let (centre, cov, centre_by) = match near {
        Some(found) => (found.centre, found.cov, CentreBy::Symmetry),
        // Uneven ground in a round target's window spoils its symmetry; its rim is still there.
        None if is_round => (ellipse.centre, rim_cov(verdict), CentreBy::Rim),
        None => return None,
    };
    Some(Spot {
        kind: verdict.kind,
        centre,
        cov,
        centre_by,
        radius_px: long,
        axis_ratio: cosine,
        angle_rad: direction(verdict),
        score: verdict.likeness.score,
    })
}

/// Covariance of the centre of a rim: places on it err by the residual, and neighbouring ones alike.
fn rim_cov(verdict: &Verdict) -> PixelCov {
    let map = verdict.ellipse.map;
    let per_axis = 2.0 * RIM_ALIKE * verdict.quality.residual.powi(2) / rays::N_RAYS as f64;
    let cov = map * map.transpose() * per_axis;
    PixelCov { xx: cov.m11, xy: cov.m12, yy: cov.m22 }
}

/// Direction in the picture of the pattern's first edge or bar, 0 to π.
fn direction(verdict: &Verdict) -> f64 {
    if matches!(verdict.kind, TargetKind::Disc | TargetKind::Ring) {
        return 0.0;
    }
    let (sin, cos) = verdict.likeness.turn_rad.sin_cos();
    let end = verdict.ellipse.at(cos, sin);
    let centre = verdict.ellipse.centre;
    (end.y - centre.y).atan2(end.x - centre.x).rem_euclid(std::f64::consts::PI)
}
