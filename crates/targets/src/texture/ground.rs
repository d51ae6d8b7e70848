//! The piece of a picture that a patch is sought in: cut out, levels centred, splined no further than needed.

use super::options::Interpolation;
use super::sample::{BLOCK, along_rows, down_columns, greatest};
use filmgauge_quantities::{GreyPixels, GreyView};

/// Rows are padded to whole blocks of the filter.
pub(super) const LANES: usize = BLOCK;

/// A splined rectangle. Coefficient (column, row) belongs to picture pixel (`left` + column, `top` + row).
pub(super) struct Ground {
    pub(super) left: i64,
    pub(super) top: i64,
    pub(super) width: usize,
    pub(super) height: usize,
    /// From one row to the next.
    pub(super) stride: usize,
    pub(super) coefs: Vec<f32>,
    /// What was taken off every level.
    pub(super) base: f64,
    /// Greatest level cut out, `base` taken off.
    pub(super) brightest: f32,
}

/// A rectangle of picture pixels, first column and row and the ones after the last.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Extent {
    pub(super) left: i64,
    pub(super) top: i64,
    pub(super) right: i64,
    pub(super) bottom: i64,
}

impl Ground {
    /// Coefficients for the pixels of `extent`. The picture is mirrored about its border where the prefilter reaches
    /// beyond; `None` for an extent that is empty, huge or wholly outside.
    pub(super) fn cut(view: &GreyView, extent: Extent, base: f64, half: &[f32]) -> Option<Self> {
        let memory = half.len() - 1;
        let width = usize::try_from(extent.right - extent.left).ok().filter(|w| (1..4096).contains(w))?;
        let height = usize::try_from(extent.bottom - extent.top).ok().filter(|h| (1..4096).contains(h))?;
        let stride = width.next_multiple_of(LANES);
        let raw_stride = stride + 2 * memory;
        let raw = levels(
            view,
            (extent.left - memory as i64, extent.top - memory as i64),
            (width + 2 * memory, height + 2 * memory, raw_stride),
            base,
        )?;
        Some(Self::splined(&raw, (width, height), (extent.left, extent.top), base, half))
    }

    /// From centred levels that reach `half.len() - 1` pixels beyond on every side, rows `stride + 2 memory` apart.
    pub(super) fn splined(
        raw: &[f32],
        (width, height): (usize, usize),
        (left, top): (i64, i64),
        base: f64,
        half: &[f32],
    ) -> Self {
        let memory = half.len() - 1;
        let stride = width.next_multiple_of(LANES);
        let mut rows = vec![0.0; stride * (height + 2 * memory)];
        along_rows(raw, stride + 2 * memory, half, &mut rows, stride);
        // Wide loads of the last row may read a little beyond it.
        let mut coefs = vec![0.0; stride * height + LANES];
        down_columns(&rows, stride, half, &mut coefs);
        let brightest = greatest(raw);
        Self { left, top, width, height, stride, coefs, base, brightest }
    }

    /// Derivatives of order (along x, along y) at every pixel that has all its taps, in f64; row after row.
    pub(super) fn derivative(&self, spline: Interpolation, order: (usize, usize)) -> Vec<f64> {
        let (across, down) = (spline.weights(0.0, order.0), spline.weights(0.0, order.1));
        let (left, n_taps) = (spline.left(), spline.n_taps());
        let mut out = Vec::new();
        for row in left..self.height.saturating_sub(left + 1) {
            for column in left..self.width.saturating_sub(left + 1) {
                let mut sum = 0.0;
                for (j, along) in down.iter().enumerate().take(n_taps - 1) {
                    let from = (row + j - left) * self.stride + column - left;
                    let taps = self.coefs[from..from + n_taps - 1].iter().zip(&across);
                    sum += along * taps.map(|(c, w)| f64::from(*c) * w).sum::<f64>();
                }
                out.push(sum);
            }
        }
        out
    }
}

/// Levels less `base` of a rectangle, mirrored about the picture's border pixels where it reaches beyond them.
fn levels(
    view: &GreyView,
    (x0, y0): (i64, i64),
    (width, height, stride): (usize, usize, usize),
    base: f64,
) -> Option<Vec<f32>> {
    #[expect(clippy::cast_possible_truncation, reason = "a grey level in single precision")]
    let base = base as f32;
    let mut out = vec![0.0; stride * height];
    if let Some((left, top)) = inside(view, (x0, y0), (width, height)) {
        for (row, to) in out.chunks_exact_mut(stride).enumerate() {
            let from = (top + row) * view.stride() + left;
            match view.pixels() {
                GreyPixels::Eight(levels) => centred(&levels[from..from + width], base, to),
                GreyPixels::Sixteen(levels) => centred(&levels[from..from + width], base, to),
            }
        }
        return Some(out);
    }
    let (most_x, most_y) = (view.width() as i64 - 1, view.height() as i64 - 1);
    let touches = x0 <= most_x && y0 <= most_y && x0 + width as i64 > 0 && y0 + height as i64 > 0;
    if !touches {
        return None;
    }
    for (row, to) in out.chunks_exact_mut(stride).enumerate() {
        let y = mirrored(y0 + row as i64, most_y)?;
        for (column, to) in to.iter_mut().enumerate().take(width) {
            *to = view.get(mirrored(x0 + column as i64, most_x)?, y)? - base;
        }
    }
    Some(out)
}

fn centred<T: Copy + Into<f32>>(levels: &[T], base: f32, to: &mut [f32]) {
    for (to, level) in to.iter_mut().zip(levels) {
        *to = (*level).into() - base;
    }
}

/// First column and row of a rectangle that lies wholly in the picture.
fn inside(view: &GreyView, (x0, y0): (i64, i64), (width, height): (usize, usize)) -> Option<(usize, usize)> {
    let (left, top) = (usize::try_from(x0).ok()?, usize::try_from(y0).ok()?);
    (left + width <= view.width() && top + height <= view.height()).then_some((left, top))
}

fn mirrored(at: i64, last: i64) -> Option<usize> {
    let folded = at.abs();
    let folded = if folded > last { 2 * last - folded } else { folded };
    usize::try_from(folded.clamp(0, last)).ok()
}
