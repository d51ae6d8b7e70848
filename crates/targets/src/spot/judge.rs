//! Whether a place is a target of a kind: its rim is sought along rays, an ellipse laid through it, and the pattern
//! within held against the kind's own.

use super::SpotOptions;
use super::ellipse::{Ellipse, Quality};
use super::patterns::Likeness;
use super::peaks::{Peak, Sort};
use super::pyramid::Pyramid;
use super::rays::{N_RAYS, Rays, directions};
use super::rim::{Change, Rim};
use super::settle::settled;
use super::waves::{alternations, range, wave_of};
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
/// Least rings of a pattern beyond the first that was seen, which may not have been the very first.
const LEAST_RINGS: usize = 3;
/// Least share of its first ring's variance in the wave of two (quadrant) or four cycles (cross): slant takes some.
const LEAST_WAVE_SHARE: f64 = 0.25;
/// Least height of that wave on the following rings, of its greatest: smear leaves some of it beyond the rim.
const LEAST_WAVE_HEIGHT: f64 = 0.25;
/// Bells below this show crosses alone: smaller discs and holes are too small, px.
const FINEST_PX: f64 = 2.0;
/// Step between rings of the first look, of the radius.
const ROUGH_STEP: f64 = 0.08;

/// What is sought in a frame.
pub(super) struct Sought<'a> {
    kinds: &'a [TargetKind],
    /// Longest radius, px.
    pub(super) radii: std::ops::RangeInclusive<f64>,
    pub(super) least_axis_ratio: f64,
    pub(super) least_score: f64,
    /// Grey levels.
    pub(super) least_contrast: f64,
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

    pub(super) fn wants(&self, kind: TargetKind) -> bool {
        self.kinds.contains(&kind)
    }
}

/// A target that was recognised, before its fine centre.
#[derive(Debug, Clone)]
pub(super) struct Verdict {
    pub(super) kind: TargetKind,
    pub(super) ellipse: Ellipse,
    pub(super) quality: Quality,
    pub(super) likeness: Likeness,
    /// Shortest radius of the ellipse, px.
    pub(super) short_px: f64,
}

/// Least score of what explains the places within it.
const CLEAR_SCORE: f64 = 0.9;

impl Verdict {
    /// Whether a place of a finer scale is only a part of this or this again. A disc may be the hole of a ring that has
    /// not been seen yet and explains nothing.
    pub(super) fn explains(&self, peak: &Peak) -> bool {
        let (dx, dy) = (peak.place.x - self.ellipse.centre.x, peak.place.y - self.ellipse.centre.y);
        self.kind != TargetKind::Disc
            && self.likeness.score >= CLEAR_SCORE
            && dx * dx + dy * dy < (0.7 * self.short_px).powi(2)
    }
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
    let mut rays = Rays::new(pyramid, &circle, ROUGH_STEP);
    if !rays.may_meet_rim(DISC_REACH, outwards, sought.least_contrast) {
        return;
    }
    rays.grow(DISC_REACH);
    let edge = rays.rim(0.4, DISC_REACH - 0.1, outwards);
    if !edge.is_all_round(sought.least_contrast) {
        return;
    }
    // A ring may show as its hole, or as a whole: then its outer rim is the blob's edge, as a disc's is.
    if let Some(settled) = settled(pyramid, &circle, &edge, outwards, sought) {
        found.extend(settled.verdict(TargetKind::Disc, sought));
        found.extend(settled.verdict(TargetKind::Ring, sought));
    }
    // A ring's band has the ground's change back beyond it.
    if !sought.wants(TargetKind::Ring) || !rays.may_turn_back(RING_REACH, outwards, sought.least_contrast) {
        return;
    }
    rays.grow(RING_REACH);
    let hole = rays.rises(0.4, 1.8, outwards);
    let band = rays.rises(0.4, RING_REACH, outwards.other_way());
    let beyond = (0..N_RAYS).filter_map(|ray| {
        let (inner, _) = hole.steepest(ray)?;
        let (outer, height) = band.steepest_within(ray, 1.2 * inner, 3.0 * inner)?;
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
    // A pattern fills three rings or more: every second one is looked at until it shows.
    let looks = rays.numbers(PATTERN.0, PATTERN.1).step_by(2);
    let (number, mut greatest) = looks.into_iter().find_map(|number| {
        let (height, share) = pattern(&rays.peek(number)?)?;
        (share >= LEAST_WAVE_SHARE).then_some((number, height))
    })?;
    // Rings within the first one that shows are not asked for again.
    rays.skip_to(number - 1);
    rays.read_next()?;
    let first = number - 1;
    while rays.reach() < PATTERN_REACH
        && let Some((height, _)) = pattern(rays.read_next()?)
        && height >= LEAST_WAVE_HEIGHT * greatest
    {
        greatest = greatest.max(height);
    }
    let last = rays.rings.len().checked_sub(2)?;
    let short = rays.share(last);
    if last < first + LEAST_RINGS - 1 || rays.reach() >= PATTERN_REACH {
        return None;
    }
    rays.grow(1.55 * short + ROUGH_STEP);
    Some(rays.rim(0.8 * short, 1.55 * short, Change::Either))
}
