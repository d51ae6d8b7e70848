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
        let far = |place: &[f64; 2]| (place[0] * place[0] + place[1] * place[1]).sqrt();
        let Some(mut before) = self.places.last().map(far) else { return 0.0 };
        let mut n = 0_u32;
        for here in self.places.iter().map(far) {
            n += u32::from((here - before).abs() < STEADY * here.max(before));
            before = here;
        }
        f64::from(n) / self.n_rays as f64
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
    /// Changes outwards from ring to ring but one, of all rays, between two shares of the radius and one ring beyond on
    /// either side where there is one.
    pub(super) fn rises(&self, low: f64, high: f64, change: Change) -> Rises {
        let range = self.between(low, high);
        let last = self.rings.len().saturating_sub(1);
        let (first, end) = (range.start.max(1), range.end.min(last));
        let from = first.saturating_sub(1).max(1);
        let three = self.rings.get(from - 1..(end + 2).min(self.rings.len())).unwrap_or_default();
        let mut rises = vec![[0.0; N_RAYS]; three.len().saturating_sub(2)];
        for (rises, rings) in rises.iter_mut().zip(three.windows(3)) {
            change_of(change, &rings[0], &rings[2], rises);
        }
        Rises { rises, from, first, end, last, step: self.step, takes_first: change == Change::Either }
    }

    /// The rim between two shares of the radius. Where it may change either way, one part of the pattern may be as grey
    /// as the ground: rays on which little changes say nothing and are left out.
    pub(super) fn rim(&self, low: f64, high: f64, change: Change) -> Rim {
        let rises = self.rises(low, high, change);
        let on_ray = |ray: usize| {
            let (share, height) = rises.steepest(ray)?;
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

fn change_of(change: Change, inner: &[f32; N_RAYS], outer: &[f32; N_RAYS], rises: &mut [f32; N_RAYS]) {
    for ((rise, inner), outer) in rises.iter_mut().zip(inner).zip(outer) {
        *rise = outer - inner;
    }
    if change != Change::Brighter {
        rises.iter_mut().for_each(|rise| *rise = change.of(*rise));
    }
}

/// Changes along all rays.
pub(super) struct Rises {
    /// Of ring `from` and those beyond.
    rises: Vec<[f32; N_RAYS]>,
    from: usize,
    /// Rings on which the steepest is sought, and the outermost that was read.
    first: usize,
    end: usize,
    last: usize,
    step: f64,
    /// Whether the first clear change counts before a steeper one.
    takes_first: bool,
}

impl Rises {
    /// Share of the radius of the steepest change along a ray, and its height from ring to ring but one, grey levels;
    /// `None` without any.
    pub(super) fn steepest(&self, ray: usize) -> Option<(f64, f32)> {
        self.steepest_between(ray, self.first, self.end)
    }

    /// The same between two shares of the radius, which must be among those read.
    pub(super) fn steepest_within(&self, ray: usize, low: f64, high: f64) -> Option<(f64, f32)> {
        let first = ((low / self.step).ceil().max(1.0) as usize - 1).max(self.first);
        let end = ((high / self.step).floor().max(0.0) as usize).min(self.end);
        self.steepest_between(ray, first, end)
    }

    fn steepest_between(&self, ray: usize, first: usize, end: usize) -> Option<(f64, f32)> {
        let rise = |ring: usize| self.rises[ring - self.from][ray];
        let mut top = (first..end)
            .map(|ring| (ring, rise(ring)))
            .reduce(|best, next| if next.1 > best.1 { next } else { best })?;
        if self.takes_first {
            // The first clear change is the pattern's own; a steeper one further out is not.
            let is_peak = |ring: usize| rise(ring) >= rise(ring - 1) && rise(ring) >= rise(ring + 1);
            let clear = (first + 1..end.saturating_sub(1))
                .find(|&ring| rise(ring) > CLEAR_SHARE * top.1 && is_peak(ring));
            top = clear.map_or(top, |ring| (ring, rise(ring)));
        }
        if top.1 <= 0.0 {
            return None;
        }
        let fine = if top.0 > 1 && top.0 + 1 < self.last {
            let (before, after) = (rise(top.0 - 1), rise(top.0 + 1));
            let curve = before + after - 2.0 * top.1;
            if curve < 0.0 { f64::from(0.5 * (before - after) / curve).clamp(-0.5, 0.5) } else { 0.0 }
        } else {
            0.0
        };
        Some(((top.0 + 1) as f64 * self.step + fine * self.step, top.1))
    }
}
