//! The picture of a patch that later frames are matched with: one frame's pixels, or the mean over quiet frames.

use super::basis::NoiseTable;
use super::columns::{Columns, Points};
use super::failure::TextureFailure;
use super::grid::{Grid, PatchSize, deviation, inside, mean, rough_noise};
use super::ground::Ground;
use super::mask::Mask;
use super::options::TextureOptions;
use super::place::{PatchShape, TexturePlace};
use super::search::Pattern;
use crate::blemish::BlemishMask;
use filmgauge_quantities::{GreyView, PixelPoint};
use nalgebra::{Matrix2, Matrix6};
use std::sync::Arc;

/// A patch of natural texture, ready to be matched. Made once; later frames never change it.
#[derive(Debug, Clone)]
pub struct Texture {
    pub(super) options: TextureOptions,
    pub(super) size: PatchSize,
    /// Level taken off everywhere.
    pub(super) base: f64,
    pub(super) points: Points,
    pub(super) columns: Columns,
    pub(super) noise: NoiseTable,
    /// The spline's prefilter.
    pub(super) filter: Vec<f32>,
    /// The patch on whole pixels, to be looked for.
    pub(super) upright: Option<Pattern>,
    /// Frames averaged.
    pub(super) n_frames: f64,
    /// Noise variance of a template pixel as a share of a frame's pixel.
    pub(super) pixel_share: f64,
    /// The first template, which a renewed one is held to.
    pub(super) original: Option<Arc<Self>>,
    pub(super) contrast: f64,
    /// Offset of the raster's first pixel from the centre.
    pub(super) corner: (f64, f64),
    /// Levels of the raster, row after row; `None` where left out.
    raster: Vec<Option<f64>>,
}

impl Texture {
    /// The patch of `size` around `centre` in one frame. The centre may lie between pixels; no level is interpolated.
    ///
    /// # Errors
    /// [`TextureFailure`]: a size out of range, a patch not wholly in the picture, saturated, or without texture.
    pub fn new(
        view: &GreyView,
        centre: PixelPoint,
        size: PatchSize,
        options: &TextureOptions,
    ) -> Result<Self, TextureFailure> {
        Self::masked(view, centre, size, None, options)
    }

    /// As [`Texture::new`], leaving out the pixels that `hidden` marks.
    ///
    /// # Errors
    /// As [`Texture::new`].
    pub fn masked(
        view: &GreyView,
        centre: PixelPoint,
        size: PatchSize,
        hidden: Option<&BlemishMask>,
        options: &TextureOptions,
    ) -> Result<Self, TextureFailure> {
        let grid = Grid::around(centre, size)?;
        let extent = grid.extent(options);
        inside(view, grid.first, size, centre)?;
        let base = mean(view, grid.first, size);
        let ground = Ground::cut(view, extent, base, &options.interpolation.filter())
            .ok_or(TextureFailure::LeftPicture { x: centre.x, y: centre.y })?;
        let mask = Mask::new(view, &ground, hidden, options);
        let points = grid.points(&ground, options);
        let keep = mask.map(|mask| mask.keep(&ground, &points, &TexturePlace::at(centre)));
        let made = Made { size, base, n_frames: 1.0, pixel_share: 1.0, noise: None };
        Self::from_points(points, keep, &made, options)
    }

    pub(super) fn from_points(
        points: Points,
        keep: Option<Vec<bool>>,
        made: &Made,
        options: &TextureOptions,
    ) -> Result<Self, TextureFailure> {
        let seen = made.noise.unwrap_or_else(|| rough_noise(&points.level, made.size.width));
        let noise_upper = seen.max(options.noise_floor_grey);
        let whole = points.u.len();
        let corner = (points.u[0], points.v[0]);
        let kept = |i: usize| keep.as_ref().is_none_or(|keep| keep[i]);
        let raster = points.level.iter().enumerate().map(|(i, level)| kept(i).then_some(*level)).collect();
        let points = keep.map_or_else(|| points.clone(), |keep| points.kept(&keep));
        let share = 1.0 - points.u.len() as f64 / whole as f64;
        if share > options.greatest_masked_share {
            return Err(TextureFailure::Masked { share });
        }
        let contrast = deviation(&points.level);
        let bare = |u_px| TextureFailure::NoTexture { contrast, noise: noise_upper, u_px };
        let columns = Columns::new(&points, options)
            .filter(|columns| columns.dof() >= 8.0)
            .ok_or(bare(f64::INFINITY))?;
        let noise = NoiseTable::new(options.interpolation);
        let mut texture = Self {
            options: options.clone(),
            size: made.size,
            base: made.base,
            points,
            columns,
            noise,
            filter: options.interpolation.filter(),
            upright: None,
            n_frames: made.n_frames,
            pixel_share: made.pixel_share,
            original: None,
            contrast,
            corner,
            raster,
        };
        let u_px = texture.expected_u(&texture.columns, noise_upper);
        if contrast < 1.5 * noise_upper || u_px > options.greatest_u_px {
            return Err(bare(u_px));
        }
        texture.upright = Pattern::of(&texture, &PatchShape::default());
        Ok(texture)
    }

    /// The columns of the present points.
    pub(super) fn remodelled(&self) -> Result<Columns, TextureFailure> {
        Columns::new(&self.points, &self.options).ok_or(TextureFailure::NoTexture {
            contrast: self.contrast,
            noise: self.options.noise_floor_grey,
            u_px: f64::INFINITY,
        })
    }

    /// Variance of the template's own error of place as a share of a frame's: that of the original, to which renewed
    /// ones are held.
    pub(super) fn anchor_share(&self) -> f64 {
        1.0 / self.original.as_ref().map_or(self.n_frames, |original| original.n_frames)
    }

    /// Standard deviation of the patch's levels, grey.
    #[must_use]
    pub fn contrast(&self) -> f64 {
        self.contrast
    }

    /// Size of the patch.
    #[must_use]
    pub fn size(&self) -> PatchSize {
        self.size
    }

    /// Frames that the patch is the mean of.
    #[must_use]
    pub fn n_frames(&self) -> f64 {
        self.n_frames
    }

    /// Pixels in use.
    #[must_use]
    pub fn n_pixels(&self) -> usize {
        self.columns.n_points
    }

    /// Standard uncertainty of the centre along its worst direction, px, for a frame of `noise_grey` and a template of
    /// that noise: what the texture can give at best, √(1 + 1/K) times the Cramér–Rao bound.
    #[must_use]
    pub fn best_u(&self, noise_grey: f64) -> f64 {
        self.expected_u(&self.columns, noise_grey)
    }

    /// Level at an offset from the centre, between pixels linearly; `None` outside or beside a pixel left out.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked to lie in the raster"
    )]
    pub(super) fn level_at(&self, u: f64, v: f64) -> Option<f64> {
        let (x, y) = (u - self.corner.0, v - self.corner.1);
        let (most_x, most_y) = ((self.size.width - 1) as f64, (self.size.height - 1) as f64);
        if !(x > -0.5 && y > -0.5 && x < most_x + 0.5 && y < most_y + 0.5) {
            return None;
        }
        let (x, y) = (x.clamp(0.0, most_x), y.clamp(0.0, most_y));
        let (column, row) = (x.floor().min(most_x - 1.0), y.floor().min(most_y - 1.0));
        let (fx, fy) = (x - column, y - row);
        let first = row as usize * self.size.width + column as usize;
        let at = |dx: usize, dy: usize| self.raster[first + dy * self.size.width + dx];
        if fx.abs() < 1e-9 && fy.abs() < 1e-9 {
            return at(0, 0);
        }
        let upper = at(0, 0)? * (1.0 - fx) + at(1, 0)? * fx;
        let lower = at(0, 1)? * (1.0 - fx) + at(1, 1)? * fx;
        Some(upper * (1.0 - fy) + lower * fy)
    }

    /// `columns.normal` without what the template's own noise of variance `s2` a frame's pixel adds to it.
    pub(super) fn true_normal(&self, columns: &Columns, s2: f64) -> Matrix6<f64> {
        let added = s2 * self.pixel_share * self.noise.slope_at_pixel;
        columns.normal - columns.slope_noise * added
    }

    fn expected_u(&self, columns: &Columns, noise: f64) -> f64 {
        let s2 = noise * noise;
        let normal = self.true_normal(columns, s2);
        // Slopes that are no more than noise hold nothing.
        let floor = columns.slope_noise * (0.25 * s2 * self.pixel_share * self.noise.slope_at_pixel);
        let unused = Matrix6::from_fn(|j, k| if j == k && j >= columns.n_unknowns { 1.0 } else { 0.0 });
        if (normal - floor + unused).cholesky().is_none() {
            return f64::INFINITY;
        }
        let cov = normal.try_inverse().map(|inverse| inverse.fixed_view::<2, 2>(0, 0).into_owned());
        let greatest = cov.map(|cov: Matrix2<f64>| cov.symmetric_eigenvalues().max());
        greatest.map_or(f64::INFINITY, |most| (s2 * (1.0 + self.anchor_share()) * most).sqrt())
    }
}

/// How a template came about.
pub(super) struct Made {
    pub(super) size: PatchSize,
    pub(super) base: f64,
    pub(super) n_frames: f64,
    pub(super) pixel_share: f64,
    /// Noise of one pixel where the frames told it.
    pub(super) noise: Option<f64>,
}
