//! Crossings of two edges without a rim, as the inner corners of a chessboard.

use super::peaks::{Peak, Sort};
use super::{CentreBy, Spot, SpotOptions};
use crate::locate::{LocateOptions, locate};
use crate::rings::Ring;
use filmgauge_quantities::{GreyView, TargetKind};
use rayon::prelude::*;

/// Radius that is looked at, in the standard deviations of the bell that showed the saddle.
const RADIUS_SPREADS: f64 = 2.6;
/// Rings that must show the crossing, of that radius.
const RINGS: [f64; 3] = [0.5, 0.7, 0.9];
/// Greatest turn between those rings, rad.
const GREATEST_TURN_RAD: f64 = 0.2;

/// Crossings at all saddles, best score first, one for each place.
pub(super) fn corners(view: &GreyView, peaks: &[Peak], options: &SpotOptions) -> Vec<Spot> {
    let saddles = peaks.par_iter().filter(|peak| peak.sort == Sort::Saddle);
    let mut found: Vec<Spot> = saddles.filter_map(|peak| corner(view, peak, options)).collect();
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut kept: Vec<Spot> = Vec::new();
    for spot in found {
        let is_known = kept
            .iter()
            .any(|other| other.centre.distance(spot.centre) < 0.5 * other.radius_px.min(spot.radius_px));
        if !is_known {
            kept.push(spot);
        }
    }
    kept.truncate(options.most);
    kept
}

fn corner(view: &GreyView, peak: &Peak, options: &SpotOptions) -> Option<Spot> {
    let radius_px = RADIUS_SPREADS * peak.spread_px;
    if radius_px < 0.9 * options.least_radius_px || radius_px > options.greatest_radius_px {
        return None;
    }
    let search_px = (0.5 * peak.spread_px).clamp(1.5, 6.0);
    let fine = LocateOptions { search_px, greatest_residual_share: 0.12, ..LocateOptions::default() };
    let located = locate(view, peak.place, radius_px, &fine).ok()?;
    if located.centre.distance(peak.place) > peak.spread_px.max(2.0) {
        return None;
    }
    let least_height =
        options.least_contrast_share * f64::from(view.full_scale()) * 2.0 / std::f64::consts::PI;
    let mut rings = Vec::new();
    for share in RINGS {
        rings.push(Ring::around(view, located.centre, share * radius_px)?);
    }
    let first = rings.first()?;
    let is_steady = rings.iter().all(|ring| {
        let along = ring.cos * first.cos + ring.sin * first.sin;
        let across = ring.sin * first.cos - ring.cos * first.sin;
        ring.height() >= least_height && across.atan2(along).abs() < 2.0 * GREATEST_TURN_RAD
    });
    let score = rings.iter().map(|ring| ring.share).sum::<f64>() / rings.len() as f64;
    (is_steady && score >= options.least_score).then(|| Spot {
        kind: TargetKind::Quadrant,
        centre: located.centre,
        cov: located.cov,
        centre_by: CentreBy::Symmetry,
        radius_px,
        axis_ratio: 1.0,
        angle_rad: first.angle_rad(),
        score,
    })
}
