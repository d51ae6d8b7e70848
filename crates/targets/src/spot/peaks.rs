//! Places that may be the centre of a target: blobs and saddles of the smoothed frame, at two scales of every level.
//!
//! A disc, the hole of a ring and the crossing of two bars are blobs (extremes of the Laplacian) at a scale that suits
//! them; a quartered disc is a saddle (the Hessian's determinant below 0). Lindeberg 1998 (International Journal of
//! Computer Vision 30:79-116) gives the scales.

use super::pyramid::Plane;
use filmgauge_quantities::PixelPoint;
use multiversion::multiversion;
use rayon::prelude::*;

/// Most places of one sort kept at one scale, strongest first.
const MOST_AT_A_SCALE: usize = 400;
/// Scale-normalised Laplacian at the middle of a disc at its best scale, as a share of its contrast: 2/e; less, since
/// scales are steps and discs may be slanted.
const BLOB_SHARE: f64 = 0.35;
/// Scale-normalised mixed slope of two crossing edges as a share of the contrast: 1/π; less, for slant and small discs.
const SADDLE_SHARE: f64 = 0.16;
/// Least ratio of the curvatures along and across a blob, or up and down a saddle: lines and edges have less.
const LEAST_CURVATURE_RATIO: f32 = 0.2;
const BLOB_ROUND: f32 =
    LEAST_CURVATURE_RATIO / ((1.0 + LEAST_CURVATURE_RATIO) * (1.0 + LEAST_CURVATURE_RATIO));
const SADDLE_EVEN: f32 =
    (1.0 - LEAST_CURVATURE_RATIO) * (1.0 - LEAST_CURVATURE_RATIO) / LEAST_CURVATURE_RATIO;
/// Pixels of a row that are looked at together.
const LANES: usize = 32;
/// Rows that one thread takes at a time.
const ROWS: usize = 32;

/// What a place looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sort {
    /// Darker than around.
    Dark,
    /// Brighter than around.
    Bright,
    /// Bright along one direction, dark across it.
    Saddle,
}

/// A place that may be the centre of a target.
#[derive(Debug, Clone, Copy)]
pub(super) struct Peak {
    pub(super) sort: Sort,
    pub(super) place: PixelPoint,
    /// Standard deviation of the bell at which it was seen, px.
    pub(super) spread_px: f64,
    strength: f32,
}

/// Peaks of a plane under a bell of `spread` of its pixels of `scale_px`.
pub(super) fn peaks(plane: &Plane, spread: f64, scale_px: f64, least_contrast: f64) -> Vec<Peak> {
    let found = of_plane(plane, spread, least_contrast);
    let (saddles, blobs): (Vec<_>, Vec<_>) = found.into_iter().partition(|peak| peak.sort == Sort::Saddle);
    let kept = strongest(blobs).into_iter().chain(strongest(saddles));
    kept.map(|peak| Peak {
        place: PixelPoint::new(peak.place.x * scale_px, peak.place.y * scale_px),
        spread_px: spread * scale_px,
        ..peak
    })
    .collect()
}

/// The strongest, in order; of equals the upper left one first.
fn strongest(mut peaks: Vec<Peak>) -> Vec<Peak> {
    peaks.sort_by(|a, b| {
        let (a_at, b_at) = (a.place, b.place);
        b.strength.total_cmp(&a.strength).then(a_at.y.total_cmp(&b_at.y)).then(a_at.x.total_cmp(&b_at.x))
    });
    peaks.truncate(MOST_AT_A_SCALE);
    peaks
}

/// Laplacian and negative determinant of three rows, not normalised by scale.
struct Slopes {
    blob: [Vec<f32>; 3],
    saddle: [Vec<f32>; 3],
}

impl Slopes {
    /// Puts row `y` of the plane in place of the row three above it.
    fn read(&mut self, plane: &Plane, y: usize) {
        let line = |y: usize| &plane.grey[y * plane.width..(y + 1) * plane.width];
        let (blob, saddle) = (&mut self.blob[y % 3], &mut self.saddle[y % 3]);
        slopes([line(y - 1), line(y), line(y + 1)], &mut blob[1..], &mut saddle[1..]);
    }
}

#[multiversion(targets("x86_64+avx2"))]
fn slopes([above, here, below]: [&[f32]; 3], blob: &mut [f32], saddle: &mut [f32]) {
    let n = here.len() - 2;
    let (a0, a1, a2) = (&above[..n], &above[1..][..n], &above[2..][..n]);
    let (h0, h1, h2) = (&here[..n], &here[1..][..n], &here[2..][..n]);
    let (b0, b1, b2) = (&below[..n], &below[1..][..n], &below[2..][..n]);
    let (blob, saddle) = (&mut blob[..n], &mut saddle[..n]);
    for x in 0..n {
        let xx = h0[x] + h2[x] - 2.0 * h1[x];
        let yy = a1[x] + b1[x] - 2.0 * h1[x];
        let xy = (a0[x] + b2[x] - a2[x] - b0[x]) * 0.25;
        blob[x] = xx + yy;
        saddle[x] = xy * xy - xx * yy;
    }
}

fn of_plane(plane: &Plane, spread: f64, least_contrast: f64) -> Vec<Peak> {
    let (width, height) = (plane.width, plane.height);
    if width < 5 || height < 5 {
        return Vec::new();
    }
    let square = spread * spread;
    let least_blob = (BLOB_SHARE * least_contrast / square) as f32;
    let least_saddle = ((SADDLE_SHARE * least_contrast / square) as f32).powi(2);
    let n_bands = (height - 4).div_ceil(ROWS);
    let bands = (0..n_bands).into_par_iter().map(|band| {
        let rows = 2 + band * ROWS..(2 + (band + 1) * ROWS).min(height - 2);
        let empty = || [0, 1, 2].map(|_| vec![0.0_f32; width]);
        let mut slopes = Slopes { blob: empty(), saddle: empty() };
        let mut found = Vec::new();
        slopes.read(plane, rows.start - 1);
        slopes.read(plane, rows.start);
        for y in rows {
            slopes.read(plane, y + 1);
            row_peaks(&slopes, y, [least_blob, least_saddle], spread, &mut found);
        }
        found
    });
    bands.collect::<Vec<_>>().into_iter().flatten().collect()
}

#[multiversion(targets("x86_64+avx2"))]
fn row_peaks(slopes: &Slopes, y: usize, least: [f32; 2], spread: f64, found: &mut Vec<Peak>) {
    let order = [(y + 2) % 3, y % 3, (y + 1) % 3];
    let blob = order.map(|k| slopes.blob[k].as_slice());
    let saddle = order.map(|k| slopes.saddle[k].as_slice());
    let width = blob[1].len();
    let square = (spread * spread) as f32;
    let least_mixed = least[1];
    for from in (2..width - 2).step_by(LANES) {
        let to = (from + LANES).min(width - 2);
        // Most pixels are neither, and a whole run of them is told at once.
        if !is_any_strong(&blob[1][from..to], &saddle[1][from..to], least) {
            continue;
        }
        for x in from..to {
            let (level, mixed) = (blob[1][x], saddle[1][x]);
            // Of curvatures a and b: blob a + b, saddle -a b.
            if level.abs() >= least[0] && -mixed > BLOB_ROUND * level * level {
                // Rising outwards means dark within.
                let sort = if level > 0.0 { Sort::Dark } else { Sort::Bright };
                found.extend(peak(blob, (x, y), |value| square * level.signum() * value, sort));
            }
            if mixed >= least_mixed && level * level < SADDLE_EVEN * mixed {
                found.extend(peak(saddle, (x, y), |value| square * value.max(0.0).sqrt(), Sort::Saddle));
            }
        }
    }
}

/// Whether any of some pixels is a blob or a saddle that is strong enough.
#[inline(always)]
fn is_any_strong(blob: &[f32], saddle: &[f32], least: [f32; 2]) -> bool {
    let strong = |(&level, &mixed): (&f32, &f32)| {
        let is_blob = u32::from(level.abs() >= least[0]) & u32::from(-mixed > BLOB_ROUND * level * level);
        let is_saddle = u32::from(mixed >= least[1]) & u32::from(level * level < SADDLE_EVEN * mixed);
        is_blob | is_saddle
    };
    blob.iter().zip(saddle).map(strong).fold(0, |any, strong| any | strong) != 0
}

/// The peak at a pixel if none of its eight neighbours is higher, placed by parabolas.
fn peak(
    lines: [&[f32]; 3],
    (x, y): (usize, usize),
    strength: impl Fn(f32) -> f32,
    sort: Sort,
) -> Option<Peak> {
    let value = |dx: usize, dy: usize| strength(lines[dy][x + dx - 1]);
    let here = value(1, 1);
    let before = [(0, 1), (0, 0), (1, 0), (2, 0)].iter().all(|&(dx, dy)| here > value(dx, dy));
    let after = || [(2, 1), (0, 2), (1, 2), (2, 2)].iter().all(|&(dx, dy)| here >= value(dx, dy));
    if !before || !after() {
        return None;
    }
    let top = |low: f32, high: f32| {
        let curve = low + high - 2.0 * here;
        if curve < 0.0 { f64::from(0.5 * (low - high) / curve).clamp(-0.5, 0.5) } else { 0.0 }
    };
    let dx = top(value(0, 1), value(2, 1));
    let dy = top(value(1, 0), value(1, 2));
    let place = PixelPoint::new(x as f64 + dx, y as f64 + dy);
    Some(Peak { sort, place, spread_px: 0.0, strength: here })
}
