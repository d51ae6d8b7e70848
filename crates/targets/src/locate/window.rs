//! The small picture that a target is located in: cut out, splined, saturation marked.

use super::outline::Outline;
use super::{LocateFailure, LocateOptions};
use crate::lanes::{LANES, mean_and_greatest, total};
use crate::spline;
use filmgauge_quantities::{GreyView, PixelPoint};
use multiversion::multiversion;

/// Pixels beyond the window for the spline's taps and for the prefilter's memory to fade.
const MARGIN_PX: i64 = 9;

/// How far the fine search may run beyond the coarse one, px.
const SLACK_PX: f64 = 1.5;

/// A square cut-out around a target. Places inside it are relative to [`Window::origin`].
pub(super) struct Window {
    /// Column and row in the picture of the cut-out's first pixel; may lie outside the picture.
    pub(super) origin: (i64, i64),
    /// The window's outline.
    pub(super) outline: Outline,
    /// Place given, relative to the origin.
    pub(super) near: PixelPoint,
    /// How far the centre may be from `near`, px.
    pub(super) reach_px: f64,
    /// Size of the picture the window was cut from.
    picture: (f64, f64),
    /// Pixels in a row, and rows.
    pub(super) side: usize,
    /// Grey levels less their mean, row after row.
    pub(super) grey: Vec<f32>,
    /// Spline coefficients of `grey`.
    pub(super) coefs: Vec<f32>,
    /// Whether target and ground may shade each in its own way.
    pub(super) ground_may_differ: bool,
    /// Greatest level that the picture can hold.
    full_scale: f64,
    /// Which pixels are saturated; `None` when none is.
    pub(super) saturated: Option<Vec<bool>>,
}

/// What the window's grey levels say before any search.
pub(super) struct Levels {
    /// Mean of the pixels above the window's mean less mean of those below, grey levels.
    pub(super) contrast: f64,
    /// Least contrast asked for, grey levels.
    pub(super) least_contrast: f64,
    /// Saturated share, 0 to 1.
    pub(super) saturated_share: f64,
}

impl Window {
    /// Cuts the window out. The window itself must be in the picture; its margin is mirrored where it is not.
    #[expect(clippy::cast_possible_truncation, reason = "places are checked to lie in the picture")]
    pub(super) fn cut(
        view: &GreyView,
        near: PixelPoint,
        outline: Outline,
        options: &LocateOptions,
    ) -> Result<Self, LocateFailure> {
        let radius_px = outline.radius_px;
        let picture = (view.width() as f64, view.height() as f64);
        if !in_picture(near, radius_px, picture) {
            return Err(LocateFailure::OutOfView);
        }
        let reach_px = options.search_px + SLACK_PX;
        let half = (radius_px + reach_px).ceil() as i64 + MARGIN_PX;
        let origin = (near.x.round() as i64 - half, near.y.round() as i64 - half);
        let side = usize::try_from(2 * half + 1).map_err(|_negative| LocateFailure::OutOfView)?;
        let mut grey = cut_mirrored(view, origin, side);
        let ceiling = options.saturation_share as f32 * view.full_scale();
        let (mean, greatest) = mean_and_greatest(&grey);
        let saturated = (greatest >= ceiling).then(|| grey.iter().map(|level| *level >= ceiling).collect());
        grey.iter_mut().for_each(|level| *level -= mean as f32);
        let coefs = spline::coefficients(&grey, side);
        let near = near.moved(-(origin.0 as f64), -(origin.1 as f64));
        let full_scale = f64::from(view.full_scale());
        Ok(Self {
            origin,
            outline,
            near,
            reach_px,
            picture,
            side,
            grey,
            coefs,
            ground_may_differ: options.ground_may_differ,
            full_scale,
            saturated,
        })
    }

    /// Contrast and saturation around `near` (in the picture).
    pub(super) fn levels(&self, near: PixelPoint, options: &LocateOptions) -> Result<Levels, LocateFailure> {
        let centre = near.moved(-(self.origin.0 as f64), -(self.origin.1 as f64));
        let mut greys: Vec<f32> = Vec::new();
        let mut n_saturated = 0_usize;
        for (y, columns) in self.outline.rows(centre) {
            let row = y * self.side + columns.start()..=y * self.side + columns.end();
            greys.extend_from_slice(&self.grey[row.clone()]);
            if let Some(mask) = &self.saturated {
                n_saturated += mask[row].iter().filter(|is_saturated| **is_saturated).count();
            }
        }
        let saturated_share = n_saturated as f64 / greys.len().max(1) as f64;
        if saturated_share > options.greatest_saturated_share {
            return Err(LocateFailure::Saturated { share: saturated_share });
        }
        let contrast = contrast(&greys);
        let least_contrast = options.least_contrast_share * self.full_scale;
        if contrast <= least_contrast {
            return Err(LocateFailure::NoContrast { contrast, noise: 0.0, least: least_contrast });
        }
        Ok(Levels { contrast, least_contrast, saturated_share })
    }

    /// Whether the window around a centre (relative to the origin) is within reach and in the picture.
    pub(super) fn holds(&self, centre: PixelPoint) -> bool {
        centre.distance(self.near) <= self.reach_px
            && in_picture(
                centre.moved(self.origin.0 as f64, self.origin.1 as f64),
                self.outline.radius_px,
                self.picture,
            )
    }
}

fn in_picture(centre: PixelPoint, radius_px: f64, (width, height): (f64, f64)) -> bool {
    centre.x - radius_px >= 0.0
        && centre.y - radius_px >= 0.0
        && centre.x + radius_px <= width - 1.0
        && centre.y + radius_px <= height - 1.0
}

/// A square of the picture, mirrored about the picture's border pixels where it reaches beyond them.
fn cut_mirrored(view: &GreyView, origin: (i64, i64), side: usize) -> Vec<f32> {
    if let Some(patch) = view.patch(origin.0, origin.1, side, side) {
        return patch.grey;
    }
    let level = |i: usize| {
        let x = mirrored(origin.0 + (i % side) as i64, view.width());
        let y = mirrored(origin.1 + (i / side) as i64, view.height());
        view.get(x, y).unwrap_or(0.0)
    };
    (0..side * side).map(level).collect()
}

fn mirrored(at: i64, length: usize) -> usize {
    let last = length as i64 - 1;
    let folded = if at < 0 { -at } else { at };
    let folded = if folded > last { 2 * last - folded } else { folded };
    usize::try_from(folded.clamp(0, last)).unwrap_or(0)
}

/// Mean of the levels above the mean less mean of those below; 0 where all are alike.
fn contrast(greys: &[f32]) -> f64 {
    let n = greys.len() as f64;
    let (mean, _) = mean_and_greatest(greys);
    let (bright, n_bright) = above(greys, mean as f32);
    if n_bright == 0.0 || n_bright == n {
        return 0.0;
    }
    bright / n_bright - (mean * n - bright) / (n - n_bright)
}

/// Sum and number of the levels above a limit.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
fn above(greys: &[f32], limit: f32) -> (f64, f64) {
    let (mut sum, mut n) = ([0.0_f32; LANES], [0.0_f32; LANES]);
    for from in (0..greys.len()).step_by(LANES) {
        // What is filled up at the end is no level: it stays at the limit.
        let mut levels = [limit; LANES];
        let to = (from + LANES).min(greys.len());
        levels[..to - from].copy_from_slice(&greys[from..to]);
        for k in 0..LANES {
            let is_above = levels[k] > limit;
            sum[k] += if is_above { levels[k] } else { 0.0 };
            n[k] += if is_above { 1.0 } else { 0.0 };
        }
    }
    (total(&sum), total(&n))
}
