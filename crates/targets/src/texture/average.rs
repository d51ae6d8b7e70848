//! Templates from several frames: the mean over frames with known places, and the renewal of a template whose picture
//! has slowly changed.
//!
//! Drift is ruled out as in Matthews, Ishikawa & Baker 2004 (IEEE Trans. Pattern Analysis and Machine Intelligence
//! 26:810-815): frames are laid on the *original* template, and count only where it and the present one agree.

use super::failure::TextureFailure;
use super::fit::match_texture;
use super::grid::{Grid, PatchSize, inside, mean};
use super::ground::{Extent, Ground, LANES};
use super::mask::Mask;
use super::options::{Interpolation, MatchOptions, TextureOptions};
use super::outline::{coef_map, left_picture, outline_of};
use super::place::{PatchShape, TexturePlace};
use super::sample::{CHUNK, cubic, quintic};
use super::search::Pattern;
use super::template::{Made, Texture};
use crate::error::{TargetsError, require_all};
use filmgauge_quantities::{GreyView, PixelPoint};
use std::sync::Arc;

/// Settings of [`Texture::renewed`].
#[derive(Debug, Clone, PartialEq)]
pub struct RenewOptions {
    /// Greatest distance between what the present and the original template say of a frame, px, and of the renewed
    /// template from the original; above 0.
    pub bound_px: f64,
    /// Least number of frames that must agree; 1 or more.
    pub least_frames: usize,
}

impl Default for RenewOptions {
    fn default() -> Self {
        Self { bound_px: 0.05, least_frames: 5 }
    }
}

impl RenewOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        require_all(&[
            ("bound_px", self.bound_px, f64::MIN_POSITIVE..=1e3, "it must be above 0"),
            ("least_frames", self.least_frames as f64, 1.0..=1e6, "it must be 1 to a million"),
        ])
    }
}

impl Texture {
    /// The mean of the patch over frames in which its centre is known (the same place in all when nothing moves yet).
    /// With K frames the template's noise falls to 1/√K. Places must be given to better than 0.01 px against each other.
    ///
    /// # Errors
    /// As [`Texture::new`]; [`TextureFailure::Guess`] for no frames.
    pub fn averaged(
        frames: &[(GreyView, PixelPoint)],
        size: PatchSize,
        options: &TextureOptions,
    ) -> Result<Self, TextureFailure> {
        let placed: Vec<_> = frames.iter().map(|(view, centre)| (*view, TexturePlace::at(*centre))).collect();
        average(&placed, size, options)
    }

    /// A template of the present look, from frames near the present one, each with a guess of the patch's place.
    /// Its centre stays the original's: however often renewed, the error against the original does not grow.
    ///
    /// # Errors
    /// [`TextureFailure::Drift`] when too few frames agree with the original or the renewed template has moved against
    /// it: keep the present one. Otherwise as [`Texture::new`].
    pub fn renewed(
        &self,
        frames: &[(GreyView, TexturePlace)],
        matching: &MatchOptions,
        options: &RenewOptions,
    ) -> Result<Self, TextureFailure> {
        let original = self.original.clone().unwrap_or_else(|| Arc::new(self.clone()));
        let bound_px = options.bound_px;
        let mut worst_px = 0.0_f64;
        let mut agreed = Vec::new();
        for (view, guess) in frames {
            let Ok(present) = match_texture(view, guess, self, matching) else { continue };
            let Ok(first) = match_texture(view, &present.place(), &original, matching) else { continue };
            let apart_px = present.centre.distance(first.centre);
            worst_px = worst_px.max(apart_px);
            if apart_px <= bound_px {
                agreed.push((*view, first.place()));
            }
        }
        if agreed.len() < options.least_frames {
            return Err(TextureFailure::Drift { moved_px: worst_px, bound_px });
        }
        let mut renewed = average(&agreed, self.size, &self.options)?;
        renewed.original = Some(original);
        renewed.anchored(&agreed, matching, bound_px)
    }

    /// Moves the centre back by what the renewed template says on average beside the original.
    fn anchored(
        mut self,
        agreed: &[(GreyView, TexturePlace)],
        matching: &MatchOptions,
        bound_px: f64,
    ) -> Result<Self, TextureFailure> {
        let (mut dx, mut dy, mut n) = (0.0, 0.0, 0.0);
        for (view, place) in agreed {
            let now = match_texture(view, place, &self, matching)?;
            dx += now.centre.x - place.centre.x;
            dy += now.centre.y - place.centre.y;
            n += 1.0;
        }
        let (dx, dy) = (dx / n, dy / n);
        let moved_px = f64::hypot(dx, dy);
        if moved_px > bound_px {
            return Err(TextureFailure::Drift { moved_px, bound_px });
        }
        self.points.u.iter_mut().for_each(|u| *u += dx);
        self.points.v.iter_mut().for_each(|v| *v += dy);
        self.columns = self.remodelled()?;
        self.corner = (self.corner.0 + dx, self.corner.1 + dy);
        self.upright = Pattern::of(&self, &PatchShape::default());
        Ok(self)
    }
}

/// The mean over frames, each sampled at its place on one common raster.
fn average(
    frames: &[(GreyView, TexturePlace)],
    size: PatchSize,
    options: &TextureOptions,
) -> Result<Texture, TextureFailure> {
    let (first_view, first_place) = frames.first().ok_or(TextureFailure::Guess)?;
    let grid = Grid::around(first_place.centre, size)?;
    inside(first_view, grid.first, size, first_place.centre)?;
    let base = mean(first_view, grid.first, size);
    let raster = Raster::new(&grid, options);
    let (mut sum, mut n, mut share) = (vec![0.0_f64; raster.n_cells()], 0.0, 0.0);
    let (mut squares, mut first, mut keep) = (vec![0.0_f64; raster.n_cells()], None, None);
    for (view, place) in frames {
        let (levels, kept, noise) = raster.sampled(view, place, base, options)?;
        let (middle, spread) = raster.light(&levels);
        let (middle0, spread0) = *first.get_or_insert((middle, spread));
        let gain = if spread > 0.0 { spread0 / spread } else { 1.0 };
        for ((sum, square), level) in sum.iter_mut().zip(&mut squares).zip(&levels) {
            let level = middle0 + gain * (f64::from(*level) - middle);
            *sum += level;
            *square += level * level;
        }
        keep = both(keep, kept);
        share += noise;
        n += 1.0;
    }
    let noise = raster.noise(&sum, &squares, n, share / n);
    #[expect(clippy::cast_possible_truncation, reason = "levels in single precision")]
    let levels: Vec<f32> = sum.iter().map(|sum| (sum / n) as f32).collect();
    let ground = raster.splined(&levels, base, options.interpolation);
    let made = Made { size, base, n_frames: n, pixel_share: share / (n * n), noise };
    Texture::from_points(grid.points(&ground, options), keep, &made, options)
}

fn both(a: Option<Vec<bool>>, b: Option<Vec<bool>>) -> Option<Vec<bool>> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.iter().zip(&b).map(|(a, b)| *a && *b).collect()),
        (a, b) => a.or(b),
    }
}

/// The raster of a patch with all that its spline needs around it.
struct Raster {
    size: PatchSize,
    /// Pixels beyond the patch that have coefficients, and that the prefilter needs beyond those.
    margin: usize,
    memory: usize,
    width: usize,
    height: usize,
    u: Vec<f32>,
    v: Vec<f32>,
    inner: super::columns::Points,
}

impl Raster {
    #[expect(clippy::cast_possible_truncation, reason = "small offsets in single precision")]
    fn new(grid: &Grid, options: &TextureOptions) -> Self {
        let (margin, memory) = (options.interpolation.left(), options.interpolation.memory());
        let size = grid.size;
        // One more column and row at the far ends, as `Grid::extent` has.
        let width = size.width + 2 * (margin + memory) + 1;
        let height = size.height + 2 * (margin + memory) + 1;
        let rim = (margin + memory) as f64;
        let (left, top) = (grid.corner.0 - rim, grid.corner.1 - rim);
        let cells = || (0..height).flat_map(|row| (0..width).map(move |column| (column, row)));
        let mut u: Vec<f32> = cells().map(|(column, _)| (left + column as f64) as f32).collect();
        let mut v: Vec<f32> = cells().map(|(_, row)| (top + row as f64) as f32).collect();
        let padded = u.len().next_multiple_of(CHUNK);
        u.resize(padded, 0.0);
        v.resize(padded, 0.0);
        let inner = super::columns::Points {
            u: grid.offsets().map(|(u, _)| u).collect(),
            v: grid.offsets().map(|(_, v)| v).collect(),
            ..Default::default()
        };
        Self { size, margin, memory, width, height, u, v, inner }
    }

    fn n_cells(&self) -> usize {
        self.width * self.height
    }

    /// Levels on the raster, which of the patch's pixels are good, and the noise variance that interpolation leaves.
    #[expect(clippy::cast_possible_truncation, reason = "an outline near the picture")]
    #[expect(clippy::type_complexity, reason = "three answers to one question")]
    fn sampled(
        &self,
        view: &GreyView,
        place: &TexturePlace,
        base: f64,
        options: &TextureOptions,
    ) -> Result<(Vec<f32>, Option<Vec<bool>>, f64), TextureFailure> {
        let gone = left_picture(place);
        let half = |side: usize| side as f64 / 2.0;
        let (low, high) = outline_of(place, half(self.size.width), half(self.size.height));
        let (most_x, most_y) = (view.width() as f64 - 0.5, view.height() as f64 - 0.5);
        if low.x < -0.5 || low.y < -0.5 || high.x > most_x || high.y > most_y {
            return Err(gone);
        }
        let (low, high) = outline_of(place, half(self.width) + 1.0, half(self.height) + 1.0);
        let spline = options.interpolation;
        let taps = spline.n_taps() as i64;
        let extent = Extent {
            left: low.x.floor() as i64 - taps,
            top: low.y.floor() as i64 - taps,
            right: high.x.ceil() as i64 + taps,
            bottom: high.y.ceil() as i64 + taps,
        };
        let ground = Ground::cut(view, extent, base, &spline.filter()).ok_or(gone)?;
        let mut levels = vec![0.0; self.u.len()];
        let map = coef_map(place, &ground);
        match spline {
            Interpolation::Cubic => {
                cubic(&ground.coefs, ground.stride, (&self.u, &self.v), &map, &mut levels);
            }
            Interpolation::Quintic => {
                quintic(&ground.coefs, ground.stride, (&self.u, &self.v), &map, &mut levels);
            }
        }
        levels.truncate(self.n_cells());
        let kept = Mask::new(view, &ground, None, options).map(|mask| mask.keep(&ground, &self.inner, place));
        Ok((levels, kept, super::basis::NoiseTable::new(spline).mean_value(&self.inner, place)))
    }

    /// Cells of the patch itself.
    fn patch_cells(&self) -> impl Iterator<Item = usize> {
        let rim = self.margin + self.memory;
        (0..self.size.height).flat_map(move |row| {
            (0..self.size.width).map(move |column| (row + rim) * self.width + column + rim)
        })
    }

    /// Mean and standard deviation over the patch.
    fn light(&self, levels: &[f32]) -> (f64, f64) {
        let n = (self.size.width * self.size.height) as f64;
        let mean = self.patch_cells().map(|i| f64::from(levels[i])).sum::<f64>() / n;
        let squares = self.patch_cells().map(|i| (f64::from(levels[i]) - mean).powi(2)).sum::<f64>();
        (mean, (squares / n).sqrt())
    }

    /// Noise of one pixel from the frames' scatter about their mean; `None` for one frame.
    fn noise(&self, sum: &[f64], squares: &[f64], n: f64, left: f64) -> Option<f64> {
        let scatter: f64 = self.patch_cells().map(|i| (squares[i] - sum[i] * sum[i] / n).max(0.0)).sum();
        let cells = (self.size.width * self.size.height) as f64;
        (n > 1.0).then(|| (scatter / cells / (n - 1.0) / left).sqrt())
    }

    /// The spline of mean levels, where [`Grid::points`] looks for it.
    fn splined(&self, levels: &[f32], base: f64, spline: Interpolation) -> Ground {
        let (width, height) = (self.width - 2 * self.memory, self.height - 2 * self.memory);
        let stride = width.next_multiple_of(LANES) + 2 * self.memory;
        let mut raw = vec![0.0; stride * self.height];
        for (to, from) in raw.chunks_exact_mut(stride).zip(levels.chunks_exact(self.width)) {
            to[..self.width].copy_from_slice(from);
        }
        Ground::splined(&raw, (width, height), (0, 0), base, &spline.filter())
    }
}
