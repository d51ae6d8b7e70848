//! Whether a place is a target of a kind: its rim is sought along rays, an ellipse laid through it, and the pattern
//! within held against the kind's own.

use super::SpotOptions;
use super::ellipse::{Ellipse, Quality};
use super::patterns::{self, Likeness};
use super::peaks::{Peak, Sort};
use super::pyramid::Pyramid;
use super::rays::{Change, N_RAYS, Rays, Rim, alternations, directions, range, wave_of};
use filmgauge_quantities::TargetKind;

/// Radius of a disc whose blob is strongest at a bell, in its standard deviations: √2.
const DISC_SPREADS: f64 = std::f64::consts::SQRT_2;
/// Radius of a cross whose crossing is seen at a bell, in its standard deviations; sought well below and above.
const CROSS_SPREADS: f64 = 5.0;
/// Radius of a quadrant seen at a bell, in its standard deviations; sought well below and above.
const QUADRANT_SPREADS: f64 = 4.0;
/// How far out the rim of a disc and of a ring around a blob is sought, of that radius.
const DISC_REACH: f64 = 2.2;
const RING_REACH: f64 = 4.0;
/// Where the first ring of a quadrant's or cross's pattern is sought, and how far out its last one, of that radius.
const PATTERN: (f64, f64) = (0.2, 1.2);
const PATTERN_REACH: f64 = 3.0;
/// Least range of a pattern's ring, of the least contrast asked for: smear and small bars take some.
const LEAST_RANGE: f64 = 0.5;
/// Least share of its first ring's variance in the wave of two (quadrant) or four cycles (cross): slant takes some.
const LEAST_WAVE_SHARE: f64 = 0.25;
/// Least height of that wave on the following rings, of its greatest: smear leaves some of it beyond the rim.
const LEAST_WAVE_HEIGHT: f64 = 0.25;
/// Least share of a rim's neighbouring places that lie about as far out as each other, of a pattern, and of a disc or ring
/// whose rim shows all round.
const STEADY_SHARE: f64 = 0.4;
const STEADY_ROUND_SHARE: f64 = 0.6;
/// Bells below this show crosses alone: smaller discs and holes are too small, px.
const FINEST_PX: f64 = 2.0;
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
/// Least share of the rays whose rim lies on the first conic, before it is settled.
const LEAST_START_SHARE: f64 = 0.5;

/// What is sought in a frame.
pub(super) struct Sought<'a> {
    kinds: &'a [TargetKind],
    /// Longest radius, px.
    radii: std::ops::RangeInclusive<f64>,
    least_axis_ratio: f64,
    least_score: f64,
    /// Grey levels.
    least_contrast: f64,
}

impl<'a> Sought<'a> {
    pub(super) fn of(options: &'a SpotOptions, least_contrast: f64) -> Self {
        Self {
            kinds: &options.kinds,
            radii: options.least_radius_px - 0.5..=options.greatest_radius_px + 0.5,
            least_axis_ratio: options.least_axis_ratio,
            least_score: options.least_score,
            least_contrast,
        }
    }

    fn wants(&self, kind: TargetKind) -> bool {
        self.kinds.contains(&kind)
    }
}

/// A target that was recognised, before its fine centre.
#[derive(Debug, Clone)]
pub(super) struct Verdict {
    pub(super) kind: TargetKind,
    pub(super) ellipse: Ellipse,
    pub(super) likeness: Likeness,
}

/// What a place may be, of each kind that is sought: a ring's hole is a disc as well.
pub(super) fn verdicts(pyramid: &Pyramid, peak: &Peak, sought: &Sought) -> Vec<Verdict> {
    let mut found = Vec::new();
    if peak.sort == Sort::Saddle {
        found.extend(patterned(pyramid, peak, TargetKind::Quadrant, sought));
    } else {
        found.extend(patterned(pyramid, peak, TargetKind::Cross, sought));
        if peak.spread_px > FINEST_PX && (sought.wants(TargetKind::Disc) || sought.wants(TargetKind::Ring)) {
            round(pyramid, peak, sought, &mut found);
        }
    }
    found
}

/// A disc or ring whose rim, or a ring whose hole, is the blob's own edge.
fn round(pyramid: &Pyramid, peak: &Peak, sought: &Sought, found: &mut Vec<Verdict>) {
    let outwards = if peak.sort == Sort::Dark { Change::Brighter } else { Change::Darker };
    let circle = Ellipse::circle(peak.place, DISC_SPREADS * peak.spread_px);
    let mut rays = Rays::cast(pyramid, &circle, DISC_REACH, ROUGH_STEP);
    let edge = rays.rim(0.4, DISC_REACH - 0.1, outwards);
    if !edge.is_all_round(sought.least_contrast) {
        return;
    }
    // A ring may show as its hole, or as a whole: then its outer rim is the blob's edge, as a disc's is.
    if let Some(settled) = settled(pyramid, &circle, &edge, outwards, sought) {
        found.extend(settled.verdict(TargetKind::Disc, sought));
        found.extend(settled.verdict(TargetKind::Ring, sought));
    }
    if !sought.wants(TargetKind::Ring) {
        return;
    }
    rays.grow(RING_REACH);
    let beyond = (0..N_RAYS).filter_map(|ray| {
        let (inner, _) = rays.steepest(ray, 0.4, 1.8, outwards)?;
        let (outer, height) = rays.steepest(ray, 1.2 * inner, 3.0 * inner, outwards.other_way())?;
        let (cos, sin) = directions()[ray];
        Some(([outer * cos, outer * sin], height))
    });
    let beyond = Rim::of(beyond);
    if beyond.is_all_round(sought.least_contrast)
        && let Some(settled) = settled(pyramid, &circle, &beyond, outwards.other_way(), sought)
    {
        found.extend(settled.verdict(TargetKind::Ring, sought));
    }
}

/// A quadrant or cross about a saddle or blob.
fn patterned(pyramid: &Pyramid, peak: &Peak, kind: TargetKind, sought: &Sought) -> Option<Verdict> {
    let (spreads, n_sides) =
        if kind == TargetKind::Quadrant { (QUADRANT_SPREADS, 4) } else { (CROSS_SPREADS, 8) };
    if !sought.wants(kind) {
        return None;
    }
    let circle = Ellipse::circle(peak.place, spreads * peak.spread_px);
    let rim = pattern_rim(pyramid, &circle, n_sides, sought)?;
    settled(pyramid, &circle, &rim, Change::Either, sought)?.verdict(kind, sought)
}

/// The rim of a pattern that alternates `n_sides` times around each ring: just beyond the last ring that does.
fn pattern_rim(pyramid: &Pyramid, circle: &Ellipse, n_sides: usize, sought: &Sought) -> Option<Rim> {
    let mut rays = Rays::new(pyramid, circle, ROUGH_STEP);
    let least = (LEAST_RANGE * sought.least_contrast) as f32;
    // Height and share of the pattern's wave on a ring that alternates.
    let pattern = |ring: &[f32; N_RAYS]| {
        let (low, high) = range(ring);
        (high - low >= least && alternations(ring) == n_sides).then(|| wave_of(ring, n_sides / 2))
    };
    let mut first = None;
    while first.is_none() && rays.reach() < PATTERN.1 {
        let found = pattern(rays.read_next()?);
        let clear = found.filter(|&(_, share)| share >= LEAST_WAVE_SHARE && rays.reach() >= PATTERN.0);
        first = clear.map(|(height, _)| (rays.rings.len() - 1, height));
    }
    let (first, mut greatest) = first?;
    while rays.reach() < PATTERN_REACH
        && let Some((height, _)) = pattern(rays.read_next()?)
        && height >= LEAST_WAVE_HEIGHT * greatest
    {
        greatest = greatest.max(height);
    }
    let last = rays.rings.len().checked_sub(2)?;
    let short = rays.share(last);
    if last < first + 2 || rays.reach() >= PATTERN_REACH {
        return None;
    }
    rays.grow(1.55 * short + ROUGH_STEP);
    Some(rays.rim(0.8 * short, 1.55 * short, Change::Either))
}

/// An ellipse that lies on a rim.
struct Settled<'a> {
    ellipse: Ellipse,
    quality: Quality,
    change: Change,
    rays: Rays<'a>,
}

/// The ellipse settled on a rim that was met by the rays of `circle` and changes outwards as said.
fn settled<'a>(
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
        let rays = Rays::cast(pyramid, &ellipse, RIM.1 + 2.0 * FINE_STEP, FINE_STEP);
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
    fn verdict(&self, kind: TargetKind, sought: &Sought) -> Option<Verdict> {
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
        is_like.then_some(Verdict { kind, ellipse: self.ellipse, likeness })
    }
}

fn is_sound(ellipse: &Ellipse, quality: Quality, residual: f64, sought: &Sought) -> bool {
    let (long, short, _) = ellipse.axes();
    // A first rim may be a little flatter than the settled one.
    short >= (sought.least_axis_ratio - 0.06) * long
        && quality.residual <= residual
        && quality.share >= LEAST_RIM_SHARE
}
