//! Dust specks and scratches of a film scan: pixels that differ from both neighbouring frames alike. A mask, no repair.
//!
//! What moves through the region within a frame or two looks the same: choose regions where the picture stands still,
//! or read the mask as a caution. Method: `docs/methods/steady.md`.

use crate::error::{TargetsError, require_all};
use filmgauge_quantities::Patch;

/// Settings of [`blemishes`].
#[derive(Debug, Clone, PartialEq)]
pub struct BlemishOptions {
    /// How many standard deviations of the noise a pixel must stand out from both neighbours; 2 to 100.
    pub noise_factor: f64,
    /// Least difference that counts, grey levels; 0 or more.
    pub least_grey: f64,
    /// What is left of the frames' displacement against each other, px: edges may differ by their slope times this;
    /// 0 to 5.
    pub displaced_px: f64,
    /// Spots of fewer pixels are noise; 1 or more.
    pub least_pixels: u32,
    /// Pixels by which every spot is widened, for its soft rim; 0 to 10.
    pub rim_px: u32,
}

impl Default for BlemishOptions {
    fn default() -> Self {
        Self { noise_factor: 5.0, least_grey: 6.0, displaced_px: 0.3, least_pixels: 2, rim_px: 1 }
    }
}

impl BlemishOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        require_all(&[
            ("noise_factor", self.noise_factor, 2.0..=100.0, "it must be 2 to 100"),
            ("least_grey", self.least_grey, 0.0..=1e9, "it must be 0 or more"),
            ("displaced_px", self.displaced_px, 0.0..=5.0, "it must be 0 to 5 px"),
            ("least_pixels", f64::from(self.least_pixels), 1.0..=1e9, "it must be 1 or more"),
            ("rim_px", f64::from(self.rim_px), 0.0..=10.0, "it must be 0 to 10 px"),
        ])
    }
}

/// The blemished pixels of a region.
#[derive(Debug, Clone, PartialEq)]
pub struct BlemishMask {
    /// Column of the first pixel in the picture.
    pub x0: i64,
    /// Row of the first pixel in the picture.
    pub y0: i64,
    /// Pixels in a row.
    pub width: usize,
    /// Number of rows.
    pub height: usize,
    /// Whether a pixel is blemished, row after row.
    pub marked: Vec<bool>,
    /// Pixels marked.
    pub n_pixels: usize,
    /// Separate spots, counted before they were widened.
    pub n_spots: usize,
}

/// Why there is no mask. A value with a reason, not a fault of the program.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BlemishFailure {
    /// The three regions differ in size.
    #[error("the region is not of the same size in all three frames")]
    Sizes,
    /// A region of fewer pixels shows no noise to compare with.
    #[error("a region of {n_pixels} pixels is too small; {least} are needed")]
    TooSmall {
        /// Pixels given.
        n_pixels: usize,
        /// Pixels needed.
        least: usize,
    },
}

/// Pixels that noise can be told from.
const LEAST_PIXELS: usize = 64;

/// The blemished pixels of `current`, from the same region of the frames before and after it (each cut where steadying
/// says, so that fixed things coincide). The neighbours' brightness is brought to that of `current` first.
///
/// # Errors
/// [`BlemishFailure`] says why there is no mask.
pub fn blemishes(
    previous: &Patch,
    current: &Patch,
    next: &Patch,
    options: &BlemishOptions,
) -> Result<BlemishMask, BlemishFailure> {
    let (width, height) = (current.width, current.height);
    let n_pixels = width * height;
    let sized =
        |patch: &Patch| patch.width == width && patch.height == height && patch.grey.len() == n_pixels;
    if ![previous, current, next].into_iter().all(sized) {
        return Err(BlemishFailure::Sizes);
    }
    if n_pixels < LEAST_PIXELS {
        return Err(BlemishFailure::TooSmall { n_pixels, least: LEAST_PIXELS });
    }
    let (before, after) = (levelled(previous, current), levelled(next, current));
    let marked = standing_out(&before, current, &after, options);
    let spots = Spots::found(&marked, width, options.least_pixels as usize);
    let marked = widened(&spots.kept, width, options.rim_px as usize);
    Ok(BlemishMask {
        x0: current.x0,
        y0: current.y0,
        width,
        height,
        n_pixels: marked.iter().filter(|mark| **mark).count(),
        marked,
        n_spots: spots.n,
    })
}

/// Grey levels of a neighbour brought to the median brightness of the frame itself.
fn levelled(patch: &Patch, like: &Patch) -> Vec<f64> {
    let (here, there) = (median(patch.grey.iter().copied()), median(like.grey.iter().copied()));
    let gain = if here > 0.0 && there > 0.0 { there / here } else { 1.0 };
    patch.grey.iter().map(|&grey| f64::from(grey) * gain).collect()
}

/// Pixels that lie beyond both neighbours, on the same side, by more than noise and displacement explain.
fn standing_out(before: &[f64], current: &Patch, after: &[f64], options: &BlemishOptions) -> Vec<bool> {
    #[expect(clippy::cast_possible_truncation, reason = "grey levels are single precision")]
    let apart = before.iter().zip(after).map(|(a, b)| (a - b).abs() as f32);
    // 0.6745 is the upper quartile of the normal law; a difference of two pixels has twice the variance of one.
    let noise = median(apart) / (0.6745 * std::f64::consts::SQRT_2);
    let tolerance = (options.noise_factor * noise).max(options.least_grey);
    let width = current.width;
    let slope = |i: usize| {
        let (x, y) = (i % width, i / width);
        let across = after[i - x.min(1)] - after[i + usize::from(x + 1 < width)];
        let down = after[i - y.min(1) * width] - after[i + usize::from(y + 1 < current.height) * width];
        0.5 * across.hypot(down)
    };
    let stands_out = |(i, &grey): (usize, &f32)| {
        let (a, b) = (f64::from(grey) - before[i], f64::from(grey) - after[i]);
        let least = tolerance + options.displaced_px * slope(i);
        a * b > 0.0 && a.abs().min(b.abs()) > least
    };
    current.grey.iter().enumerate().map(stands_out).collect()
}

/// Spots of neighbouring pixels, corners included.
struct Spots {
    kept: Vec<bool>,
    n: usize,
}

impl Spots {
    fn found(marked: &[bool], width: usize, least: usize) -> Self {
        let mut kept = vec![false; marked.len()];
        let mut seen = vec![false; marked.len()];
        let mut n = 0;
        for start in 0..marked.len() {
            if !marked[start] || seen[start] {
                continue;
            }
            let (mut spot, mut next) = (vec![start], 0);
            seen[start] = true;
            while let Some(&at) = spot.get(next) {
                next += 1;
                around(at, width, marked.len(), 1, |neighbour| {
                    if marked[neighbour] && !seen[neighbour] {
                        seen[neighbour] = true;
                        spot.push(neighbour);
                    }
                });
            }
            if spot.len() >= least {
                n += 1;
                spot.into_iter().for_each(|at| kept[at] = true);
            }
        }
        Self { kept, n }
    }
}

fn widened(marked: &[bool], width: usize, rim: usize) -> Vec<bool> {
    let mut wide = marked.to_vec();
    for at in (0..marked.len()).filter(|&at| marked[at]) {
        around(at, width, marked.len(), rim, |neighbour| wide[neighbour] = true);
    }
    wide
}

/// Visits the pixels within `reach` columns and rows of one.
fn around(at: usize, width: usize, n: usize, reach: usize, mut visit: impl FnMut(usize)) {
    let (x, y) = (at % width, at / width);
    for row in y.saturating_sub(reach)..=(y + reach).min(n / width - 1) {
        for column in x.saturating_sub(reach)..=(x + reach).min(width - 1) {
            visit(row * width + column);
        }
    }
}

fn median(values: impl Iterator<Item = f32>) -> f64 {
    let mut values: Vec<f32> = values.collect();
    let middle = values.len() / 2;
    f64::from(*values.select_nth_unstable_by(middle, f32::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_distr::{Distribution, Normal};
    use rand_xoshiro::Xoshiro256PlusPlus;
    use rand_xoshiro::rand_core::SeedableRng;

    const WIDTH: usize = 80;

    /// A slanted edge and noise of 2 grey, at a brightness.
    fn frame(seed: u64, gain: f32) -> Patch {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let noise = Normal::new(0.0_f32, 2.0).unwrap();
        let level = |i: usize| if i % WIDTH + i / WIDTH / 2 > 50 { 150.0 } else { 80.0 };
        let grey = (0..WIDTH * 60).map(|i| gain * (level(i) + noise.sample(&mut random))).collect();
        Patch { x0: 10, y0: 20, width: WIDTH, height: 60, grey }
    }

    fn paint(patch: &mut Patch, columns: std::ops::Range<usize>, rows: std::ops::Range<usize>, grey: f32) {
        for row in rows {
            patch.grey[row * WIDTH..][columns.clone()].fill(grey);
        }
    }

    #[test]
    fn specks_and_scratches_are_marked_and_nothing_else() {
        let (previous, mut current, next) = (frame(1, 0.9), frame(2, 1.0), frame(3, 1.1));
        paint(&mut current, 20..23, 10..13, 235.0);
        paint(&mut current, 60..61, 5..50, 20.0);
        let mask = blemishes(&previous, &current, &next, &BlemishOptions::default()).unwrap();
        assert_eq!(mask.n_spots, 2, "{}", mask.n_pixels);
        assert!((mask.x0, mask.y0) == (10, 20) && mask.n_pixels == 25 + 3 * 47, "{}", mask.n_pixels);
        assert!(mask.marked[11 * WIDTH + 21] && mask.marked[30 * WIDTH + 60]);
    }

    #[test]
    fn clean_frames_stay_clean_and_a_blemish_next_door_is_not_ours() {
        let mut n_marked = 0;
        for seed in 0..20 {
            let (mut previous, current, next) =
                (frame(3 * seed, 1.0), frame(3 * seed + 1, 1.0), frame(3 * seed + 2, 1.0));
            paint(&mut previous, 30..34, 30..34, 240.0);
            n_marked += blemishes(&previous, &current, &next, &BlemishOptions::default()).unwrap().n_pixels;
        }
        assert_eq!(n_marked, 0);
    }

    #[test]
    fn regions_that_do_not_fit_are_refused() {
        let whole = frame(1, 1.0);
        let cut = Patch { width: 40, height: 60, grey: vec![0.0; 2400], ..whole.clone() };
        let options = BlemishOptions::default();
        assert_eq!(blemishes(&whole, &cut, &whole, &options), Err(BlemishFailure::Sizes));
        let tiny = Patch { width: 4, height: 4, grey: vec![0.0; 16], ..whole };
        assert!(matches!(blemishes(&tiny, &tiny, &tiny, &options), Err(BlemishFailure::TooSmall { .. })));
        assert!(BlemishOptions { rim_px: 11, ..options }.check().is_err());
    }
}
