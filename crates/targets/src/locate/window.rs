//! The small picture that a target is located in: cut out, splined, saturation marked; coarse centre.

use super::outline::Outline;
use super::{LocateFailure, LocateOptions};
use crate::spline;
use filmgauge_quantities::{GreyView, PixelPoint};
use ndarray::Array2;

/// Pixels beyond the window for the spline's taps and for the prefilter's memory to fade.
const MARGIN_PX: i64 = 9;

/// A window of this radius shows its rough symmetry on every row, one of twice that on every second, px.
const COARSE_RADIUS_PX: f64 = 8.0;

/// How far the fine search may run beyond the coarse one, px.
const SLACK_PX: f64 = 1.5;

/// A square cut-out around a target. Places inside it are relative to [`Window::origin`].
pub(super) struct Window {
    /// Column and row in the picture of the cut-out's first pixel; may lie outside the picture.
    pub(super) origin: (i64, i64),
    /// The window's outline.
    pub(super) outline: Outline,
    /// Place given, relative to the origin.
    near: PixelPoint,
    /// How far the centre may be from `near`, px.
    pub(super) reach_px: f64,
    /// Size of the picture the window was cut from.
    picture: (f64, f64),
    /// Grey levels.
    pub(super) grey: Array2<f32>,
    /// Spline coefficients of `grey`.
    pub(super) coefs: Array2<f32>,
    /// Greatest level that the picture can hold.
    full_scale: f64,
    /// Which pixels are saturated; `None` when none is.
    pub(super) saturated: Option<Array2<bool>>,
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
        let size = usize::try_from(2 * half + 1).map_err(|_negative| LocateFailure::OutOfView)?;
        let grey = cut_mirrored(view, origin, size);
        let ceiling = options.saturation_share as f32 * view.full_scale();
        let saturated =
            grey.iter().any(|&level| level >= ceiling).then(|| grey.mapv(|level| level >= ceiling));
        let coefs = spline::coefficients(grey.clone());
        let near = near.moved(-(origin.0 as f64), -(origin.1 as f64));
        let full_scale = f64::from(view.full_scale());
        Ok(Self { origin, outline, near, reach_px, picture, grey, coefs, full_scale, saturated })
    }

    /// Contrast and saturation around `near` (in the picture).
    pub(super) fn levels(&self, near: PixelPoint, options: &LocateOptions) -> Result<Levels, LocateFailure> {
        let centre = near.moved(-(self.origin.0 as f64), -(self.origin.1 as f64));
        let mut greys = Vec::new();
        let mut n_saturated = 0_usize;
        for (y, columns) in self.outline.rows(centre) {
            for x in columns {
                greys.push(f64::from(self.grey[[y, x]]));
                n_saturated += usize::from(self.saturated.as_ref().is_some_and(|mask| mask[[y, x]]));
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

    /// The best centre of symmetry on a half-pixel raster within `search_px` of the place given; relative to the origin.
    pub(super) fn coarse_centre(&self, near: PixelPoint, search_px: f64) -> PixelPoint {
        let near = near.moved(-(self.origin.0 as f64), -(self.origin.1 as f64));
        let (middle_x, middle_y) = ((2.0 * near.x).round(), (2.0 * near.y).round());
        let steps = (2.0 * search_px).floor().max(0.0);
        let mut best = (f64::INFINITY, near);
        let mut step_y = -steps;
        while step_y <= steps {
            let mut step_x = -steps;
            while step_x <= steps {
                let centre = PixelPoint::new((middle_x + step_x) / 2.0, (middle_y + step_y) / 2.0);
                let asymmetry = self.asymmetry(centre);
                if asymmetry < best.0 {
                    best = (asymmetry, centre);
                }
                step_x += 1.0;
            }
            step_y += 1.0;
        }
        if steps > 0.0 { best.1 } else { near }
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

    /// Mean squared difference of opposite pixels over the window's variance, about a half-pixel centre.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "twice a raster centre inside the cut-out is a small whole number"
    )]
    fn asymmetry(&self, centre: PixelPoint) -> f64 {
        let twice = ((2.0 * centre.x) as usize, (2.0 * centre.y) as usize);
        let (mut n, mut sum, mut squares, mut differences) = (0_usize, 0.0_f64, 0.0_f64, 0.0_f64);
        let every = (self.outline.radius_px / COARSE_RADIUS_PX).ceil().max(1.0) as usize;
        for (y, columns) in self.outline.rows(centre).step_by(every) {
            if 2 * y > twice.1 {
                break;
            }
            let (left, right) = (*columns.start(), *columns.end());
            let (row, opposite) = (self.grey.row(y), self.grey.row(twice.1 - y));
            let (Some(row), Some(opposite)) = (row.to_slice(), opposite.to_slice()) else { continue };
            let opposite = &opposite[twice.0 - right..=twice.0 - left];
            for (&here, &there) in row[left..=right].iter().zip(opposite.iter().rev()) {
                let (a, b) = (f64::from(here), f64::from(there));
                sum += a + b;
                squares += a * a + b * b;
                differences += (a - b) * (a - b);
            }
            n += 2 * (right + 1 - left);
        }
        let n = n as f64;
        let variance = (squares - sum * sum / n) / n;
        differences / n / variance.max(1e-9)
    }
}

fn in_picture(centre: PixelPoint, radius_px: f64, (width, height): (f64, f64)) -> bool {
    centre.x - radius_px >= 0.0
        && centre.y - radius_px >= 0.0
        && centre.x + radius_px <= width - 1.0
        && centre.y + radius_px <= height - 1.0
}

/// A square of the picture, mirrored about the picture's border pixels where it reaches beyond them.
fn cut_mirrored(view: &GreyView, origin: (i64, i64), size: usize) -> Array2<f32> {
    if let Some(patch) = view.patch(origin.0, origin.1, size, size)
        && let Ok(grid) = Array2::from_shape_vec((size, size), patch.grey)
    {
        return grid;
    }
    Array2::from_shape_fn((size, size), |(row, column)| {
        let x = mirrored(origin.0 + column as i64, view.width());
        let y = mirrored(origin.1 + row as i64, view.height());
        view.get(x, y).unwrap_or(0.0)
    })
}

fn mirrored(at: i64, length: usize) -> usize {
    let last = length as i64 - 1;
    let folded = if at < 0 { -at } else { at };
    let folded = if folded > last { 2 * last - folded } else { folded };
    usize::try_from(folded.clamp(0, last)).unwrap_or(0)
}

/// Mean of the levels above the mean less mean of those below; 0 where all are alike.
fn contrast(greys: &[f64]) -> f64 {
    let mean = greys.iter().sum::<f64>() / greys.len().max(1) as f64;
    let (mut bright, mut n_bright, mut dark, mut n_dark) = (0.0, 0_usize, 0.0, 0_usize);
    for &grey in greys {
        if grey > mean {
            bright += grey;
            n_bright += 1;
        } else {
            dark += grey;
            n_dark += 1;
        }
    }
    if n_bright == 0 || n_dark == 0 { 0.0 } else { bright / n_bright as f64 - dark / n_dark as f64 }
}
