//! Whether what lies about a centre looks like the kind of target that is sought: levels on rings around it.

use super::Located;
use super::hint::TargetHint;
use crate::rings::between;
use filmgauge_quantities::{GreyView, PixelPoint, TargetKind};
use std::f64::consts::TAU;

/// Samples on a ring.
const N_SAMPLES: usize = 48;
/// Where a quadrant's or cross's ring lies, and the rings of a disc or ring, as shares of the radius.
const INNER_SHARE: f64 = 0.6;
const PROFILE_SHARES: [f64; 6] = [0.15, 0.4, 0.65, 0.85, 1.05, 1.25];
/// A change along a ring counts when it crosses this share of the ring's range.
const CROSSED_SHARE: f64 = 0.4;
/// Changes along a ring are told from noise when the contrast is this many times the noise.
const CLEAR_CONTRAST: f64 = 10.0;
/// Least share of a disc's or ring's variance that lies between rings, not along them.
const LEAST_PROFILE_SHARE: f64 = 0.25;
/// A smear longer than this share of the radius hides a cross's bars; three times that hides any other pattern.
const HIDING_SMEAR: f64 = 0.13;

/// Whether the levels about a centre are those of `hint.kind`. True where rings leave the picture, or smear or noise
/// hides them.
pub(super) fn is_of_kind(view: &GreyView, located: &Located, hint: &TargetHint) -> bool {
    let hiding = match hint.kind {
        TargetKind::Patch => return false,
        TargetKind::Cross => HIDING_SMEAR,
        TargetKind::Quadrant | TargetKind::Disc | TargetKind::Ring => 3.0 * HIDING_SMEAR,
    };
    if hint.smear_px > hiding * hint.radius_px || located.contrast < CLEAR_CONTRAST * located.noise {
        return true;
    }
    let ring = |share: f64| levels(view, located.centre, hint, share);
    match hint.kind {
        TargetKind::Quadrant => ring(INNER_SHARE).is_none_or(|ring| alternations(&ring) == 4),
        TargetKind::Cross => ring(INNER_SHARE).is_none_or(|ring| alternations(&ring) == 8),
        TargetKind::Disc | TargetKind::Ring | TargetKind::Patch => {
            let rings: Vec<_> = PROFILE_SHARES.into_iter().filter_map(ring).collect();
            rings.len() < 3 || profile_share(&rings) > LEAST_PROFILE_SHARE
        }
    }
}

/// Levels on the ring of a share of the radius, shortened as the plate is; `None` when it leaves the picture.
fn levels(view: &GreyView, centre: PixelPoint, hint: &TargetHint, share: f64) -> Option<[f64; N_SAMPLES]> {
    let (squeeze, (x, y)) =
        hint.pose.as_ref().and_then(|pose| pose.slant(centre)).unwrap_or((1.0, (1.0, 0.0)));
    let mut levels = [0.0; N_SAMPLES];
    for (k, level) in levels.iter_mut().enumerate() {
        let (sin, cos) = (TAU * k as f64 / N_SAMPLES as f64).sin_cos();
        let (along, across) = (share * hint.radius_px * squeeze * cos, share * hint.radius_px * sin);
        *level = between(view, centre.x + along * x - across * y, centre.y + along * y + across * x)?;
    }
    Some(levels)
}

fn mean(levels: &[f64; N_SAMPLES]) -> f64 {
    levels.iter().sum::<f64>() / N_SAMPLES as f64
}

fn variance(levels: &[f64; N_SAMPLES]) -> f64 {
    let mean = mean(levels);
    levels.iter().map(|level| (level - mean).powi(2)).sum::<f64>() / N_SAMPLES as f64
}

/// How often a ring goes from dark to bright or back: past the middle of its range by a part of the range.
fn alternations(levels: &[f64; N_SAMPLES]) -> usize {
    let low = levels.iter().copied().fold(f64::INFINITY, f64::min);
    let high = levels.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let (middle, past) = (f64::midpoint(low, high), CROSSED_SHARE * (high - low) / 2.0);
    let sides = levels.iter().filter(|&&level| (level - middle).abs() > past).map(|&level| level > middle);
    let sides: Vec<bool> = sides.collect();
    (0..sides.len()).filter(|&k| sides[k] != sides[(k + 1) % sides.len()]).count()
}

/// Share of the variance of all rings that lies between their means.
fn profile_share(rings: &[[f64; N_SAMPLES]]) -> f64 {
    let n = rings.len() as f64;
    let within = rings.iter().map(variance).sum::<f64>() / n;
    let whole = rings.iter().map(mean).sum::<f64>() / n;
    let between = rings.iter().map(|ring| (mean(ring) - whole).powi(2)).sum::<f64>() / n;
    between / (between + within).max(1e-9)
}
