//! Levels along rays of an ellipse's disc, and where a rim crosses them.

use super::ellipse::Ellipse;
use super::pyramid::Level;
use std::f64::consts::TAU;

/// Rays around a centre; a multiple of 8.
pub(super) const N_RAYS: usize = 48;
/// A level of the pyramid suits a radius of this many of its pixels and up to twice that.
const RADIUS_ON_LEVEL_PX: f64 = 7.0;

/// Of two changes along a ray the first counts when it has this share of the other's height.
const CLEAR_SHARE: f64 = 0.5;

/// Of a rim that may change either way, changes below this share of its strongest fifth are not taken for it.
const WEAK_SHARE: f64 = 0.35;
/// So many rays must show such a rim, or the others count as rays without one.
const FEWEST_CLEAR: usize = N_RAYS * 5 / 12;

/// Where a rim was met, on the disc, and of how many rays that could tell.
pub(super) struct Rim {
    pub(super) places: Vec<[f64; 2]>,
    pub(super) n_rays: usize,
}

/// Levels by ring and ray; ring `j` lies at the share `(j + 1) * step` of the radius.
pub(super) struct Rays {
    pub(super) rings: Vec<[f64; N_RAYS]>,
    pub(super) step: f64,
}

/// How a rim changes outwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Change {
    Brighter,
    Darker,
    Either,
}

impl Change {
    pub(super) fn other_way(self) -> Self {
        match self {
            Self::Brighter => Self::Darker,
            Self::Darker => Self::Brighter,
            Self::Either => Self::Either,
        }
    }

    fn of(self, rise: f64) -> f64 {
        match self {
            Self::Brighter => rise,
            Self::Darker => -rise,
            Self::Either => rise.abs(),
        }
    }
}

/// Cosine and sine of a ray's direction.
pub(super) fn direction(ray: usize) -> (f64, f64) {
    let (sin, cos) = (TAU * ray as f64 / N_RAYS as f64).sin_cos();
    (cos, sin)
}

impl Rays {
    /// Rings outwards to the share `reach` of the radius, or as far as they lie in the picture.
    pub(super) fn cast(levels: &[Level], ellipse: &Ellipse, reach: f64, step: f64) -> Self {
        let radius_px = ellipse.map.determinant().abs().sqrt();
        let fits = |level: &&Level| radius_px / level.scale_px >= RADIUS_ON_LEVEL_PX;
        let level = levels.iter().rev().find(fits).unwrap_or(&levels[0]);
        let directions: [(f64, f64); N_RAYS] = std::array::from_fn(direction);
        let n_rings = (reach / step).round().max(1.0) as u32;
        let ring = |j: u32| {
            let share = f64::from(j) * step;
            let mut ring = [0.0; N_RAYS];
            for (grey, (cos, sin)) in ring.iter_mut().zip(directions) {
                let place = ellipse.at(share * cos, share * sin);
                *grey = level.plain.at(place.x / level.scale_px, place.y / level.scale_px)?;
            }
            Some(ring)
        };
        Self { rings: (1..=n_rings).map_while(ring).collect(), step }
    }

    /// Share of the radius at which a ring lies.
    pub(super) fn share(&self, ring: usize) -> f64 {
        (ring + 1) as f64 * self.step
    }

    /// Rings between two shares of the radius.
    pub(super) fn between(&self, low: f64, high: f64) -> std::ops::Range<usize> {
        let first = (low / self.step).ceil().max(1.0) as usize - 1;
        let end = ((high / self.step).floor().max(0.0) as usize).min(self.rings.len());
        first.min(end)..end
    }

    /// Share of the radius of the steepest change along a ray between two shares, and its height from ring to ring but
    /// one, grey levels; `None` without any.
    pub(super) fn steepest(&self, ray: usize, low: f64, high: f64, change: Change) -> Option<(f64, f64)> {
        let range = self.between(low, high);
        let rise = |ring: usize| change.of(self.rings[ring + 1][ray] - self.rings[ring - 1][ray]);
        let last = self.rings.len().checked_sub(1)?;
        let (first, end) = (range.start.max(1), range.end.min(last));
        let mut top = (first..end)
            .map(|ring| (ring, rise(ring)))
            .reduce(|best, next| if next.1 > best.1 { next } else { best })?;
        if change == Change::Either {
            // The first clear change is the pattern's own; a steeper one further out is not.
            let is_peak = |ring: usize| rise(ring) >= rise(ring - 1) && rise(ring) >= rise(ring + 1);
            let clear = (first + 1..end.saturating_sub(1))
                .find(|&ring| is_peak(ring) && rise(ring) > CLEAR_SHARE * top.1);
            top = clear.map_or(top, |ring| (ring, rise(ring)));
        }
        if top.1 <= 0.0 {
            return None;
        }
        let fine = if top.0 > 1 && top.0 + 1 < last {
            let (before, after) = (rise(top.0 - 1), rise(top.0 + 1));
            let curve = before + after - 2.0 * top.1;
            if curve < 0.0 { (0.5 * (before - after) / curve).clamp(-0.5, 0.5) } else { 0.0 }
        } else {
            0.0
        };
        Some((self.share(top.0) + fine * self.step, top.1))
    }

    /// The rim between two shares of the radius. Where it may change either way, one part of the pattern may be as grey
    /// as the ground: rays on which little changes say nothing and are left out.
    pub(super) fn rim(&self, low: f64, high: f64, change: Change) -> Rim {
        let on_ray = |ray: usize| {
            let (share, height) = self.steepest(ray, low, high, change)?;
            let (cos, sin) = direction(ray);
            Some(([share * cos, share * sin], height))
        };
        let met: Vec<([f64; 2], f64)> = (0..N_RAYS).filter_map(on_ray).collect();
        if change != Change::Either || met.is_empty() {
            return Rim { places: met.into_iter().map(|(place, _)| place).collect(), n_rays: N_RAYS };
        }
        let mut heights: Vec<f64> = met.iter().map(|(_, height)| *height).collect();
        heights.sort_by(f64::total_cmp);
        let least = WEAK_SHARE * heights[heights.len() * 4 / 5];
        let clear = met.into_iter().filter(|(_, height)| *height >= least);
        let places: Vec<[f64; 2]> = clear.map(|(place, _)| place).collect();
        Rim { n_rays: places.len().max(FEWEST_CLEAR), places }
    }

    /// Mean level of each ray between two shares; `None` where no ring lies there.
    pub(super) fn ray_means(&self, low: f64, high: f64) -> Option<[f64; N_RAYS]> {
        let range = self.between(low, high);
        let n = range.len() as f64;
        let mut means = [0.0; N_RAYS];
        for ring in range {
            means.iter_mut().zip(&self.rings[ring]).for_each(|(mean, grey)| *mean += grey / n);
        }
        (n > 0.0).then_some(means)
    }

    /// Mean and variance of the levels between two shares, by area; `None` where no ring lies there.
    pub(super) fn moments(&self, low: f64, high: f64) -> Option<(f64, f64)> {
        let (mut weights, mut sum, mut squares) = (0.0, 0.0, 0.0);
        for ring in self.between(low, high) {
            let weight = self.share(ring);
            weights += weight * N_RAYS as f64;
            sum += weight * self.rings[ring].iter().sum::<f64>();
            squares += weight * self.rings[ring].iter().map(|grey| grey * grey).sum::<f64>();
        }
        let mean = sum / weights;
        (weights > 0.0).then(|| (mean, (squares / weights - mean * mean).max(0.0)))
    }
}

/// How often levels along a ring go from dark to bright or back, past the middle by a part of their range.
pub(super) fn alternations(ring: &[f64; N_RAYS]) -> usize {
    let low = ring.iter().copied().fold(f64::INFINITY, f64::min);
    let high = ring.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let (middle, past) = (f64::midpoint(low, high), 0.12 * (high - low));
    let clear = |&&level: &&f64| (level - middle).abs() > past;
    let (mut n, mut last, mut first) = (0, None, None);
    for side in ring.iter().filter(clear).map(|&level| level > middle) {
        n += usize::from(last.is_some_and(|last| last != side));
        first = first.or(Some(side));
        last = Some(side);
    }
    n + usize::from(first != last)
}

/// Cosine and sine parts of the wave of `n_cycles` around a ring.
pub(super) fn wave(ring: &[f64; N_RAYS], n_cycles: usize) -> (f64, f64) {
    let (mut cos_sum, mut sin_sum) = (0.0, 0.0);
    for (ray, level) in ring.iter().enumerate() {
        let (cos, sin) = direction(n_cycles * ray % N_RAYS);
        cos_sum += level * cos;
        sin_sum += level * sin;
    }
    (2.0 * cos_sum / N_RAYS as f64, 2.0 * sin_sum / N_RAYS as f64)
}
