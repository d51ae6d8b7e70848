//! Places that may be the centre of a target: blobs and saddles of the smoothed frame, at two scales of every level.
//!
//! A disc, the hole of a ring and the crossing of two bars are blobs (extremes of the Laplacian) at a scale that suits
//! them; a quartered disc is a saddle (the Hessian's determinant below 0). Lindeberg 1998 (International Journal of
//! Computer Vision 30:79-116) gives the scales.

use super::pyramid::{Level, Plane};
use filmgauge_quantities::PixelPoint;
use rayon::prelude::*;

/// Most places of one sort kept at one scale, strongest first.
const MOST_AT_A_SCALE: usize = 400;
/// Scale-normalised Laplacian at the middle of a disc at its best scale, as a share of its contrast: 2/e; less, since
/// scales are steps and discs may be slanted.
const BLOB_SHARE: f64 = 0.35;
/// Scale-normalised mixed slope of two crossing edges as a share of the contrast: 1/π; less, for slant and small discs.
const SADDLE_SHARE: f64 = 0.16;

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

/// Peaks of both scales of a level.
pub(super) fn peaks(level: &Level, least_contrast: f64) -> Vec<Peak> {
    let mut found = Vec::new();
    for (plane, spread) in level.smooth.iter().zip(level.spreads) {
        let mut at_scale = of_plane(plane, spread, least_contrast);
        at_scale.sort_by(|a, b| {
            let place = |p: &Peak| (p.place.y, p.place.x);
            let (a_at, b_at) = (place(a), place(b));
            b.strength.total_cmp(&a.strength).then(a_at.0.total_cmp(&b_at.0)).then(a_at.1.total_cmp(&b_at.1))
        });
        for sorts in [&[Sort::Dark, Sort::Bright][..], &[Sort::Saddle]] {
            let of_sort = at_scale.iter().filter(|peak| sorts.contains(&peak.sort));
            found.extend(of_sort.take(MOST_AT_A_SCALE).map(|peak| Peak {
                place: PixelPoint::new(peak.place.x * level.scale_px, peak.place.y * level.scale_px),
                spread_px: spread * level.scale_px,
                ..*peak
            }));
        }
    }
    found
}

/// Laplacian and negative determinant's root of a plane, both normalised by scale, row by row.
struct Slopes {
    blob: Vec<f32>,
    saddle: Vec<f32>,
}

fn slopes(plane: &Plane, spread: f64) -> Slopes {
    let (width, height) = (plane.width, plane.height);
    let square = (spread * spread) as f32;
    let (mut blob, mut saddle) = (vec![0.0_f32; width * height], vec![0.0_f32; width * height]);
    let rows = blob.par_chunks_mut(width).zip(saddle.par_chunks_mut(width)).enumerate();
    rows.filter(|(y, _)| (1..height - 1).contains(y)).for_each(|(y, (blob, saddle))| {
        let line = |y: usize| &plane.grey[y * width..(y + 1) * width];
        let (above, here, below) = (line(y - 1), line(y), line(y + 1));
        for x in 1..width - 1 {
            let xx = here[x - 1] + here[x + 1] - 2.0 * here[x];
            let yy = above[x] + below[x] - 2.0 * here[x];
            let xy = (above[x - 1] + below[x + 1] - above[x + 1] - below[x - 1]) * 0.25;
            blob[x] = square * (xx + yy);
            saddle[x] = square * (xy * xy - xx * yy).max(0.0).sqrt();
        }
    });
    Slopes { blob, saddle }
}

fn of_plane(plane: &Plane, spread: f64, least_contrast: f64) -> Vec<Peak> {
    let (width, height) = (plane.width, plane.height);
    if width < 5 || height < 5 {
        return Vec::new();
    }
    let slopes = slopes(plane, spread);
    let least_blob = (BLOB_SHARE * least_contrast) as f32;
    let least_saddle = (SADDLE_SHARE * least_contrast) as f32;
    let rows: Vec<Vec<Peak>> = (2..height - 2)
        .into_par_iter()
        .map(|y| {
            let mut found = Vec::new();
            for x in 2..width - 2 {
                let at = y * width + x;
                let blob = slopes.blob[at];
                // Rising outwards means dark within.
                let sort = if blob > 0.0 { Sort::Dark } else { Sort::Bright };
                if blob.abs() >= least_blob {
                    found.extend(peak(&slopes.blob, width, (x, y), blob.signum(), sort));
                }
                if slopes.saddle[at] >= least_saddle {
                    found.extend(peak(&slopes.saddle, width, (x, y), 1.0, Sort::Saddle));
                }
            }
            found
        })
        .collect();
    rows.into_iter().flatten().collect()
}

/// The peak at a pixel if none of its eight neighbours is higher, placed by parabolas.
fn peak(values: &[f32], width: usize, (x, y): (usize, usize), sign: f32, sort: Sort) -> Option<Peak> {
    let at = y * width + x;
    let value = |dx: isize, dy: isize| sign * values[at.wrapping_add_signed(dy * width as isize + dx)];
    let here = value(0, 0);
    let before = [(-1, -1), (0, -1), (1, -1), (-1, 0)].iter().all(|&(dx, dy)| here > value(dx, dy));
    let after = || [(1, 0), (-1, 1), (0, 1), (1, 1)].iter().all(|&(dx, dy)| here >= value(dx, dy));
    if !before || !after() {
        return None;
    }
    let top = |low: f32, high: f32| {
        let curve = low + high - 2.0 * here;
        if curve < 0.0 { f64::from(0.5 * (low - high) / curve).clamp(-0.5, 0.5) } else { 0.0 }
    };
    let dx = top(value(-1, 0), value(1, 0));
    let dy = top(value(0, -1), value(0, 1));
    let place = PixelPoint::new(x as f64 + dx, y as f64 + dy);
    Some(Peak { sort, place, spread_px: 0.0, strength: here })
}
