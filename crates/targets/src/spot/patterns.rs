//! How like the pattern of each kind the levels within and just beyond an ellipse are, 0 to 1.

use super::rays::{N_RAYS, Rays, directions};
use super::rim::Change;
use super::waves::{mean, wave};
use std::f64::consts::{FRAC_PI_2, PI};

/// Half-widths of a cross's bars that are tried, of the radius.
const BAR_HALVES: [f64; 4] = [0.12, 0.16, 0.2, 0.26];
/// Softness of a pattern's edges, of the radius: blur and an ellipse that is a little off must not cost much.
const SOFT: f64 = 0.08;
/// Where a pattern is held against the levels, of the radius.
const WITHIN: (f64, f64) = (0.15, 0.88);
/// Where it must have ended.
const BEYOND: (f64, f64) = (1.15, 1.4);
/// Greatest height of the pattern beyond the rim, of that within.
const GREATEST_BEYOND: f64 = 0.5;
/// Share of its change that a sharp rim makes close by.
const SHARP: f64 = 0.9;
/// Greatest variance beyond the rim, of that within: a chequered area goes on as it was.
const GREATEST_UNEVEN: f64 = 0.45;
/// Least share of a disc's change, from well within to well beyond, in the 0.3 radii about its rim: a blob that fades
/// has a third of it there.
const LEAST_STEEPNESS: f64 = 0.4;

/// How like a kind.
#[derive(Debug, Clone, Copy)]
pub(super) struct Likeness {
    /// Share of the variance that is the kind's pattern, 0 to 1.
    pub(super) score: f64,
    /// Direction of an edge (a bar) on the disc, rad.
    pub(super) turn_rad: f64,
    /// Dark to bright, grey levels.
    pub(super) contrast: f64,
    /// Whether the rim of a disc or ring fades over a good part of the radius, as by smear.
    pub(super) is_soft: bool,
}

/// A plain disc on other ground.
pub(super) fn disc(rays: &Rays<'_>, change: Change) -> Option<Likeness> {
    let (inside, varied) = rays.moments(0.05, 0.82)?;
    let (outside, uneven) = rays.moments(BEYOND.0, BEYOND.1)?;
    let step = rise(change) * (outside - inside);
    let near = |share: f64| rays.moments(share - 0.03, share + 0.03).map(|moments| moments.0);
    let steep = (near(1.15)? - near(0.85)?) / (near(1.35)? - near(0.3)?);
    if step <= 0.0 || steep < LEAST_STEEPNESS || !has_ground(rays, change, inside, step) {
        return None;
    }
    let score = part(step, varied) * part(step, uneven).sqrt();
    Some(Likeness { score, turn_rad: 0.0, contrast: step, is_soft: steep < SHARP })
}

/// A band with other ground within and around.
pub(super) fn ring(rays: &Rays, change: Change) -> Option<Likeness> {
    let means: Vec<f64> = rays.rings.iter().map(mean).collect();
    let inner = rise(change.other_way());
    let range = rays.between(0.25, 0.85);
    let hole = (range.start.max(1)..range.end)
        .filter_map(|ring| Some((rays.share(ring), inner * (means.get(ring + 1)? - means[ring - 1]))))
        .reduce(|best, next| if next.1 > best.1 { next } else { best })?;
    let (within, dim) = rays.moments(0.0, (hole.0 - 0.12).max(0.1))?;
    let (band, varied) = rays.moments(hole.0 + 0.1, 0.9)?;
    let (outside, uneven) = rays.moments(BEYOND.0, BEYOND.1)?;
    let (to_hole, to_ground) = (rise(change) * (within - band), rise(change) * (outside - band));
    let step = to_hole.min(to_ground);
    if step <= 0.0 || step < 0.4 * to_hole.max(to_ground) || !has_ground(rays, change, band, step) {
        return None;
    }
    let score = part(step, varied) * part(step, dim) * part(step, uneven).sqrt();
    let near = |share: f64| rays.moments(share - 0.03, share + 0.03).map(|moments| moments.0);
    let steep = rise(change) * (near(1.1)? - near(0.9)?) / to_ground;
    Some(Likeness { score, turn_rad: 0.0, contrast: step, is_soft: steep < SHARP })
}

/// Four quarters, opposite ones alike.
pub(super) fn quadrant(rays: &Rays) -> Option<Likeness> {
    let (cos, sin) = wave(&rays.ray_means(0.3, 0.85)?, 2);
    // Bright where the sine of twice the angle from the first edge is positive.
    let turn_rad = (0.5 * (-cos).atan2(sin)).rem_euclid(PI);
    let soft = |d: f64| (d / SOFT).clamp(-1.0, 1.0);
    // From -1 to 1 the pattern is twice its height.
    likeness(rays, turn_rad, |along, across| soft(along) * soft(across))
        .map(|like| Likeness { contrast: 2.0 * like.contrast, ..like })
}

/// Two crossing bars on other ground, in a disc.
pub(super) fn cross(rays: &Rays) -> Option<Likeness> {
    let (cos, sin) = wave(&rays.ray_means(0.4, 0.85)?, 4);
    let tried = BAR_HALVES.iter().flat_map(|&half| {
        // Bars may be the dark or the bright part.
        let dark = (0.25 * (-sin).atan2(-cos)).rem_euclid(FRAC_PI_2);
        [dark, (dark + FRAC_PI_2 / 2.0).rem_euclid(FRAC_PI_2)].into_iter().filter_map(move |turn| {
            let bar = move |d: f64| ((d.abs() - half) / SOFT + 0.5).clamp(0.0, 1.0);
            likeness(rays, turn, |along, across| bar(along) * bar(across))
        })
    });
    tried.reduce(|best, next| if next.score > best.score { next } else { best })
}

fn rise(change: Change) -> f64 {
    if change == Change::Darker { -1.0 } else { 1.0 }
}

/// Share of the variance that is a step, of a step and what varies beside it.
fn part(step: f64, variance: f64) -> f64 {
    let square = step * step / 4.0;
    square / (square + variance)
}

/// Whether nearly every ray leaves the level `inside` beyond the rim, by nearly half the step.
fn has_ground(rays: &Rays, change: Change, inside: f64, step: f64) -> bool {
    let Some(means) = rays.ray_means(1.12, 1.3) else { return false };
    let left = means.iter().filter(|&&grey| rise(change) * (grey - inside) > 0.45 * step).count();
    left + 2 >= N_RAYS
}

/// Correlation of a pattern with the levels within; `None` when it goes on beyond the rim.
fn likeness(rays: &Rays, turn_rad: f64, pattern: impl Fn(f64, f64) -> f64) -> Option<Likeness> {
    let (turn_sin, turn_cos) = turn_rad.sin_cos();
    let turned =
        directions().map(|(cos, sin)| (cos * turn_cos + sin * turn_sin, sin * turn_cos - cos * turn_sin));
    let fit = |low: f64, high: f64| {
        let mut sums = [0.0; 6];
        for ring in rays.between(low, high) {
            let share = rays.share(ring);
            let mut of_ring = [0.0; 6];
            for (&grey, (cos, sin)) in rays.rings[ring].iter().zip(turned) {
                let (model, grey) = (pattern(share * cos, share * sin), f64::from(grey));
                let products = [1.0, model, grey, model * model, model * grey, grey * grey];
                of_ring.iter_mut().zip(products).for_each(|(sum, product)| *sum += product);
            }
            sums.iter_mut().zip(of_ring).for_each(|(sum, of_ring)| *sum += share * of_ring);
        }
        let [n, m, g, mm, mg, gg] = sums;
        let (var_m, cov, var_g) = (mm - m * m / n, mg - m * g / n, gg - g * g / n);
        (n > 0.0 && var_m > 0.0 && var_g > 0.0).then(|| (cov / var_m, cov * cov / (var_m * var_g)))
    };
    let (height, score) = fit(WITHIN.0, WITHIN.1)?;
    let (beyond, _) = fit(BEYOND.0, BEYOND.1)?;
    let (_, uneven) = rays.moments(BEYOND.0, BEYOND.1)?;
    let (_, varied) = rays.moments(WITHIN.0, WITHIN.1)?;
    let ends = beyond / height < GREATEST_BEYOND && uneven < GREATEST_UNEVEN * varied;
    ends.then_some(Likeness { score, turn_rad, contrast: height.abs(), is_soft: false })
}
