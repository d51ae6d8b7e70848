//! Whether a place is a target of a kind: its rim is sought along rays, an ellipse laid through it, and the pattern
//! within held against the kind's own.

use super::SpotOptions;
use super::ellipse::{Ellipse, Quality};
use super::patterns::{self, Likeness};
use super::peaks::{Peak, Sort};
use super::pyramid::Level;
use super::rays::{Change, N_RAYS, Rays, Rim, alternations};
use filmgauge_quantities::TargetKind;

/// Radius of a disc whose blob is strongest at a bell, in its standard deviations: √2.
const DISC_SPREADS: f64 = std::f64::consts::SQRT_2;
/// Radius of a cross whose crossing is seen at a bell, in its standard deviations; sought well below and above.
const CROSS_SPREADS: f64 = 5.0;
/// Radius of a quadrant seen at a bell, in its standard deviations; sought well below and above.
const QUADRANT_SPREADS: f64 = 4.0;
/// Step between rings of the first and of the finer look, of the radius.
const ROUGH_STEP: f64 = 0.08;
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

/// A target that was recognised, before its fine centre.
#[derive(Debug, Clone)]
pub(super) struct Verdict {
    pub(super) kind: TargetKind,
    pub(super) ellipse: Ellipse,
    pub(super) likeness: Likeness,
}

/// What a place may be, of each kind that is sought: a ring's hole is a disc as well.
pub(super) fn verdicts(levels: &[Level], peak: &Peak, options: &SpotOptions) -> Vec<Verdict> {
    let tried = options.kinds.iter().flat_map(|&kind| {
        // A ring may show as its hole, or as a whole.
        let whole = (kind == TargetKind::Ring).then(|| first_rim(levels, peak, TargetKind::Disc, options));
        let starts = [first_rim(levels, peak, kind, options), whole.flatten()];
        starts
            .into_iter()
            .flatten()
            .filter_map(move |(start, change)| settled(levels, kind, start, change, options))
    });
    tried.collect()
}

/// A first ellipse through the rim, and how the rim changes outwards.
fn first_rim(
    levels: &[Level],
    peak: &Peak,
    kind: TargetKind,
    options: &SpotOptions,
) -> Option<(Ellipse, Change)> {
    let is_blob = peak.sort != Sort::Saddle;
    let outwards = if peak.sort == Sort::Dark { Change::Brighter } else { Change::Darker };
    let circle = |spreads: f64| Ellipse::circle(peak.place, spreads * peak.spread_px);
    let (ellipse, rim, change) = match kind {
        TargetKind::Disc if is_blob => {
            let ellipse = circle(DISC_SPREADS);
            let rays = Rays::cast(levels, &ellipse, 2.2, ROUGH_STEP);
            (ellipse, rays.rim(0.4, 2.1, outwards), outwards)
        }
        TargetKind::Ring if is_blob => {
            let ellipse = circle(DISC_SPREADS);
            let rays = Rays::cast(levels, &ellipse, 4.0, ROUGH_STEP);
            let points = (0..N_RAYS).filter_map(|ray| {
                let (inner, _) = rays.steepest(ray, 0.4, 1.8, outwards)?;
                let (outer, _) = rays.steepest(ray, 1.2 * inner, 3.0 * inner, outwards.other_way())?;
                let (cos, sin) = super::rays::direction(ray);
                Some([outer * cos, outer * sin])
            });
            (ellipse, Rim { places: points.collect(), n_rays: N_RAYS }, outwards.other_way())
        }
        TargetKind::Cross if is_blob => {
            let (ellipse, rim) = pattern_rim(levels, circle(CROSS_SPREADS), 8)?;
            (ellipse, rim, Change::Either)
        }
        TargetKind::Quadrant if !is_blob => {
            let (ellipse, rim) = pattern_rim(levels, circle(QUADRANT_SPREADS), 4)?;
            (ellipse, rim, Change::Either)
        }
        _ => return None,
    };
    let (ellipse, quality) = ellipse.refitted(&rim.places, rim.n_rays)?;
    is_sound(&ellipse, quality, 2.5 * GREATEST_RESIDUAL, options).then_some((ellipse, change))
}

/// The rim of a pattern that alternates `n_sides` times around each ring: just beyond the last ring that does.
fn pattern_rim(levels: &[Level], ellipse: Ellipse, n_sides: usize) -> Option<(Ellipse, Rim)> {
    let rays = Rays::cast(levels, &ellipse, 3.0, ROUGH_STEP);
    let is_pattern = |ring: usize| alternations(&rays.rings[ring]) == n_sides;
    let first = rays.between(0.2, 1.2).find(|&ring| is_pattern(ring))?;
    let last = (first..rays.rings.len()).take_while(|&ring| is_pattern(ring)).last()?;
    let short = rays.share(last);
    if last < first + 2 || last + 2 >= rays.rings.len() {
        return None;
    }
    Some((ellipse, rays.rim(0.8 * short, 1.55 * short, Change::Either)))
}

/// The ellipse settled on the rim, and how much what it holds is like the kind.
fn settled(
    levels: &[Level],
    kind: TargetKind,
    start: Ellipse,
    change: Change,
    options: &SpotOptions,
) -> Option<Verdict> {
    let mut ellipse = start;
    let mut quality = Quality { residual: 1.0, share: 0.0 };
    for _ in 0..2 {
        let rays = Rays::cast(levels, &ellipse, FINE_REACH, FINE_STEP);
        let rim = rays.rim(RIM.0, RIM.1, change);
        (ellipse, quality) = ellipse.refitted(&rim.places, rim.n_rays)?;
    }
    let (long, _, _) = ellipse.axes();
    let is_round = matches!(kind, TargetKind::Disc | TargetKind::Ring);
    let least_share = if is_round { LEAST_ROUND_SHARE } else { LEAST_RIM_SHARE };
    let is_of_size = (options.least_radius_px - 0.5..=options.greatest_radius_px + 0.5).contains(&long);
    if !is_of_size || quality.share < least_share || !is_sound(&ellipse, quality, GREATEST_RESIDUAL, options)
    {
        return None;
    }
    let rays = Rays::cast(levels, &ellipse, FINE_REACH, FINE_STEP);
    let likeness = match kind {
        TargetKind::Disc => patterns::disc(&rays, change),
        TargetKind::Ring => patterns::ring(&rays, change),
        TargetKind::Quadrant => patterns::quadrant(&rays),
        TargetKind::Cross => patterns::cross(&rays),
        TargetKind::Patch => None,
    }?;
    (likeness.score >= options.least_score).then_some(Verdict { kind, ellipse, likeness })
}

fn is_sound(ellipse: &Ellipse, quality: Quality, residual: f64, options: &SpotOptions) -> bool {
    let (long, short, _) = ellipse.axes();
    // A first rim may be a little flatter than the settled one.
    short >= (options.least_axis_ratio - 0.06) * long
        && quality.residual <= residual
        && quality.share >= LEAST_RIM_SHARE
}
