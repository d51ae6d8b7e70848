//! Where a rim crosses rays, and which way it changes.

use super::rays::{N_RAYS, Rays, directions};

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

    pub(super) fn of(self, rise: f32) -> f32 {
        match self {
            Self::Brighter => rise,
            Self::Darker => -rise,
            Self::Either => rise.abs(),
        }
    }
}

impl Rays<'_> {
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
}
