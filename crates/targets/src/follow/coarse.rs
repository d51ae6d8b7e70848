//! A coarse look for one target over a wide reach: its picture and the field in blocks of pixels.

use super::likeness::{DISC_SHARE, Likeness};
use super::pattern::{Field, Pattern};
use filmgauge_quantities::{GreyView, PixelPoint};

/// The coarse look takes blocks of pixels of this many to a radius.
const BLOCK_RADII: f64 = 4.0;

/// Greatest side of a block, px.
const MOST_BLOCK: usize = 6;

/// The start's picture in blocks of pixels.
pub(super) struct Coarse {
    /// `None` when the blocks are all alike.
    pattern: Option<Pattern>,
    /// Side of a block, px.
    pub(super) block: usize,
    reach: i64,
}

impl Coarse {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "radii of a few hundred pixels"
    )]
    pub(super) fn of(likeness: &Likeness) -> Self {
        let block = ((likeness.radius_px / BLOCK_RADII).floor() as usize).clamp(1, MOST_BLOCK);
        let half = block as i64 / 2;
        let reach = (DISC_SHARE * likeness.radius_px) as i64 / block as i64;
        let mut rows = Vec::new();
        for by in -reach..=reach {
            let blocks: Vec<(i64, f32)> = (-reach..=reach)
                .filter_map(|bx| {
                    let mut sum = 0.0;
                    for oy in 0..block as i64 {
                        for ox in 0..block as i64 {
                            sum += likeness
                                .pattern
                                .at(bx * block as i64 + ox - half, by * block as i64 + oy - half)?;
                        }
                    }
                    Some((bx, sum))
                })
                .collect();
            let Some(&(from_dx, _)) = blocks.first() else { continue };
            rows.push((by, from_dx, blocks.into_iter().map(|(_, sum)| sum).collect()));
        }
        Self { pattern: Pattern::new(rows.into_iter()), block, reach }
    }

    /// Places of the greatest likeness in the view, `apart_px` from each other.
    #[expect(clippy::cast_possible_truncation, reason = "places near the picture")]
    pub(super) fn peaks(
        &self,
        view: &GreyView,
        near: PixelPoint,
        reach_px: f64,
        least: f64,
        most: usize,
        apart_px: f64,
    ) -> Vec<PixelPoint> {
        let block = self.block as i64;
        let edge = reach_px.ceil() as i64 + (self.reach + 1) * block;
        let left = (near.x.round() as i64 - edge).max(0);
        let top = (near.y.round() as i64 - edge).max(0);
        let right = (near.x.round() as i64 + edge).min(view.width() as i64);
        let bottom = (near.y.round() as i64 + edge).min(view.height() as i64);
        let blocks = blocks_of(view, (left, top), (right, bottom), self.block);
        let (Some((field, height)), Some(pattern)) = (blocks, &self.pattern) else { return Vec::new() };
        let mut scores: Vec<(f64, PixelPoint)> = Vec::new();
        for y in self.reach..height as i64 - self.reach {
            for x in self.reach..field.width as i64 - self.reach {
                let zncc = pattern.correlation(&field, (x, y));
                if zncc >= least {
                    let middle = (block - 1) as f64 / 2.0 - (block / 2) as f64;
                    let at = |from: i64, k: i64| (from + k * block + block / 2) as f64 + middle;
                    scores.push((zncc, PixelPoint::new(at(left, x), at(top, y))));
                }
            }
        }
        scores.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut kept: Vec<PixelPoint> = Vec::new();
        for (_, place) in scores {
            if kept.iter().all(|other| other.distance(place) >= apart_px) {
                kept.push(place);
                if kept.len() == most {
                    break;
                }
            }
        }
        kept
    }
}

/// Means over blocks of pixels, and their rows.
fn blocks_of(
    view: &GreyView,
    (left, top): (i64, i64),
    (right, bottom): (i64, i64),
    block: usize,
) -> Option<(Field, usize)> {
    let width = usize::try_from(right - left).ok()? / block;
    let height = usize::try_from(bottom - top).ok()? / block;
    let patch = view.patch(left, top, width * block, height * block)?;
    let mut means = vec![0.0_f32; width * height];
    for (y, row) in patch.grey.chunks_exact(width * block).enumerate() {
        for (mean, levels) in means[y / block * width..][..width].iter_mut().zip(row.chunks_exact(block)) {
            *mean += levels.iter().sum::<f32>();
        }
    }
    let n = (block * block) as f32;
    means.iter_mut().for_each(|mean| *mean /= n);
    Some((Field::new(&means, width), height))
}
