//! Levels along rays of an ellipse's disc, and where a rim crosses them.

use super::ellipse::Ellipse;
use super::picture::Rings;
use super::pyramid::Pyramid;
use std::f64::consts::TAU;
use std::sync::LazyLock;

/// Rays around a centre; a multiple of 8.
pub(super) const N_RAYS: usize = 48;
/// A level of the pyramid suits a radius of this many of its pixels and up to twice that.
const RADIUS_ON_LEVEL_PX: f64 = 7.0;

/// Of two changes along a ray the first counts when it has this share of the other's height.
const CLEAR_SHARE: f32 = 0.5;

/// Of a rim that may change either way, changes below this share of its strongest fifth are not taken for it.
const WEAK_SHARE: f32 = 0.35;
/// So many rays must show such a rim, or the others count as rays without one.
const FEWEST_CLEAR: usize = N_RAYS * 5 / 12;

/// A rim that shows all round is met on this share of the rays, with this share of its usual height.
const ROUND_SHARE: f64 = 0.75;
const ROUND_HEIGHT: f32 = 0.2;
/// Least usual height of a rim from ring to ring but one, of the least contrast asked for: smear spreads it.
const LEAST_HEIGHT: f64 = 0.2;
/// Neighbouring places of a rim differ by less than this share of their distance from the centre.
const STEADY: f64 = 0.12;

/// Where a rim was met, on the disc, and of how many rays that could tell.
pub(super) struct Rim {
    pub(super) places: Vec<[f64; 2]>,
    pub(super) n_rays: usize,
    /// Height of the change at each place, from ring to ring but one, grey levels.
    heights: Vec<f32>,
}

impl Rim {
    /// A rim that any ray could have met.
    pub(super) fn of(met: impl Iterator<Item = ([f64; 2], f32)>) -> Self {
        let (places, heights) = met.unzip();
        Self { places, n_rays: N_RAYS, heights }
    }

    /// Share of the neighbouring places that lie about as far out as each other.
    pub(super) fn steadiness(&self) -> f64 {
        let next = self.places.iter().cycle().skip(1);
        let is_steady = |(here, next): &(&[f64; 2], &[f64; 2])| {
            let (here, next) = (here[0].hypot(here[1]), next[0].hypot(next[1]));
            (here - next).abs() < STEADY * here.max(next)
        };
        self.places.iter().zip(next).filter(is_steady).count() as f64 / self.n_rays as f64
    }

    /// Whether it was met on nearly every ray, with a height that is more than noise.
    pub(super) fn is_all_round(&self, least_contrast: f64) -> bool {
        let mut sorted = self.heights.clone();
        sorted.sort_by(f32::total_cmp);
        let Some(&usual) = sorted.get(sorted.len() / 2) else { return false };
        let met = sorted.iter().filter(|&&height| height >= ROUND_HEIGHT * usual).count();
        f64::from(usual) >= LEAST_HEIGHT * least_contrast && met as f64 >= ROUND_SHARE * N_RAYS as f64
    }
}

/// Levels by ring and ray; ring `j` lies at the share `(j + 1) * step` of the radius.
pub(super) struct Rays<'a> {
    source: Rings<'a>,
    pub(super) rings: Vec<[f32; N_RAYS]>,
    step: f64,
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

    fn of(self, rise: f32) -> f32 {
        match self {
            Self::Brighter => rise,
            Self::Darker => -rise,
            Self::Either => rise.abs(),
        }
    }
}

/// Cosine and sine of each ray's direction.
pub(super) fn directions() -> &'static [(f64, f64); N_RAYS] {
    static DIRECTIONS: LazyLock<[(f64, f64); N_RAYS]> = LazyLock::new(|| {
        std::array::from_fn(|ray| {
            let (sin, cos) = (TAU * ray as f64 / N_RAYS as f64).sin_cos();
            (cos, sin)
        })
    });
    &DIRECTIONS
}

impl<'a> Rays<'a> {
    /// Rays that have not been read yet, of an ellipse's disc, with rings at `step` of its radius.
    pub(super) fn new(pyramid: &'a Pyramid, ellipse: &Ellipse, step: f64) -> Self {
        let radius_px = ellipse.map.determinant().abs().sqrt();
        let source = Rings::new(pyramid.picture(radius_px, RADIUS_ON_LEVEL_PX), ellipse, step);
        Self { source, rings: Vec::new(), step }
    }

    /// Rings outwards to the share `reach` of the radius, or as far as they lie in the picture.
    pub(super) fn cast(pyramid: &'a Pyramid, ellipse: &Ellipse, reach: f64, step: f64) -> Self {
        let mut rays = Self::new(pyramid, ellipse, step);
        rays.grow(reach);
        rays
    }

    /// Reads rings outwards to the share `reach`, or as far as they lie in the picture.
    pub(super) fn grow(&mut self, reach: f64) {
        let n_rings = (reach / self.step).round().max(1.0) as usize;
        self.rings.reserve(n_rings.saturating_sub(self.rings.len()));
        while self.rings.len() < n_rings && self.read_next().is_some() {}
    }

    /// Reads one ring more; `None` when it leaves the picture.
    pub(super) fn read_next(&mut self) -> Option<&[f32; N_RAYS]> {
        let ring = self.source.ring(self.rings.len() + 1)?;
        self.rings.push(ring);
        self.rings.last()
    }

    /// Share of the radius of the outermost ring that was read.
    pub(super) fn reach(&self) -> f64 {
        self.rings.len() as f64 * self.step
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
    pub(super) fn steepest(&self, ray: usize, low: f64, high: f64, change: Change) -> Option<(f64, f32)> {
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
            if curve < 0.0 { f64::from(0.5 * (before - after) / curve).clamp(-0.5, 0.5) } else { 0.0 }
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
            let (cos, sin) = directions()[ray];
            Some(([share * cos, share * sin], height))
        };
        let whole = Rim::of((0..N_RAYS).filter_map(on_ray));
        if change != Change::Either || whole.heights.is_empty() {
            return whole;
        }
        let mut sorted = whole.heights.clone();
        sorted.sort_by(f32::total_cmp);
        let least = WEAK_SHARE * sorted[sorted.len() * 4 / 5];
        let met = whole.places.into_iter().zip(whole.heights).filter(|(_, height)| *height >= least);
        let clear = Rim::of(met);
        Rim { n_rays: clear.places.len().max(FEWEST_CLEAR), ..clear }
    }

    /// Mean level of each ray between two shares; `None` where no ring lies there.
    pub(super) fn ray_means(&self, low: f64, high: f64) -> Option<[f64; N_RAYS]> {
        let range = self.between(low, high);
        let n = range.len() as f64;
        let mut means = [0.0; N_RAYS];
        for ring in range {
            means.iter_mut().zip(&self.rings[ring]).for_each(|(mean, grey)| *mean += f64::from(*grey) / n);
        }
        (n > 0.0).then_some(means)
    }

    /// Mean and variance of the levels between two shares, by area; `None` where no ring lies there.
    pub(super) fn moments(&self, low: f64, high: f64) -> Option<(f64, f64)> {
        let (mut weights, mut sum, mut squares) = (0.0, 0.0, 0.0);
        for ring in self.between(low, high) {
            let weight = self.share(ring);
            weights += weight * N_RAYS as f64;
            let levels = || self.rings[ring].iter().map(|&grey| f64::from(grey));
            sum += weight * levels().sum::<f64>();
            squares += weight * levels().map(|grey| grey * grey).sum::<f64>();
        }
        let mean = sum / weights;
        (weights > 0.0).then(|| (mean, (squares / weights - mean * mean).max(0.0)))
    }
}

/// Lowest and highest level along a ring.
pub(super) fn range(ring: &[f32; N_RAYS]) -> (f32, f32) {
    ring.iter().fold((f32::INFINITY, f32::NEG_INFINITY), |(low, high), &grey| (low.min(grey), high.max(grey)))
}

/// Mean level along a ring.
pub(super) fn mean(ring: &[f32; N_RAYS]) -> f64 {
    ring.iter().map(|&grey| f64::from(grey)).sum::<f64>() / N_RAYS as f64
}

/// How often levels along a ring go from dark to bright or back, past the middle by a part of their range.
pub(super) fn alternations(ring: &[f32; N_RAYS]) -> usize {
    let (low, high) = range(ring);
    let (middle, past) = (f32::midpoint(low, high), 0.12 * (high - low));
    let clear = |&&level: &&f32| (level - middle).abs() > past;
    let (mut n, mut last, mut first) = (0, None, None);
    for side in ring.iter().filter(clear).map(|&level| level > middle) {
        n += usize::from(last.is_some_and(|last| last != side));
        first = first.or(Some(side));
        last = Some(side);
    }
    n + usize::from(first != last)
}

/// Cosine and sine parts of the wave of `n_cycles` around a ring.
pub(super) fn wave<T: Copy + Into<f64>>(ring: &[T; N_RAYS], n_cycles: usize) -> (f64, f64) {
    let (mut cos_sum, mut sin_sum) = (0.0, 0.0);
    for (ray, &level) in ring.iter().enumerate() {
        let level: f64 = level.into();
        let (cos, sin) = directions()[n_cycles * ray % N_RAYS];
        cos_sum += level * cos;
        sin_sum += level * sin;
    }
    (2.0 * cos_sum / N_RAYS as f64, 2.0 * sin_sum / N_RAYS as f64)
}

/// Height of the wave of `n_cycles` around a ring, and its share of the ring's variance, 0 to 1.
pub(super) fn wave_of(ring: &[f32; N_RAYS], n_cycles: usize) -> (f64, f64) {
    let mean = mean(ring);
    let squares: f64 = ring.iter().map(|&grey| (f64::from(grey) - mean).powi(2)).sum();
    let (cos, sin) = wave(ring, n_cycles);
    let square = cos * cos + sin * sin;
    (square.sqrt(), square * N_RAYS as f64 / (2.0 * squares.max(1e-9)))
}
