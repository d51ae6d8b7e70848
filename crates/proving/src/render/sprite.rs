//! A body's paint on a grid in body axes, laid over the picture through the exact rays of each pixel.

use super::canvas::Canvas;
use super::texture::Texture;
use crate::dynamics::Instant;
use crate::scene::{BodyName, Paint};
use crate::view::{PaintFrame, View, size};

/// Samples per grid cell and axis when edges are painted.
const EDGE_SAMPLES: i32 = 4;
/// Cells along one side at most; coarser paint beyond that.
const MOST_CELLS: f64 = 2048.0;

/// A body's paint: grey times cover, and cover, at the corners of a grid.
#[derive(Debug, Clone)]
pub(super) struct Sprite {
    pub body: BodyName,
    pub offset_m: f64,
    origin_m: [f64; 2],
    step_m: f64,
    columns: usize,
    rows: usize,
    cells: Vec<[f32; 2]>,
}

impl Sprite {
    /// Paints all areas of one body as one camera sees it, in order.
    pub(super) fn new(paints: &[&Paint], metres_per_px: f64, seed: u64) -> Option<Self> {
        let first = paints.first()?;
        let bounds = paints
            .iter()
            .fold([f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY], |around, paint| {
                widened(around, paint)
            });
        let extent = (bounds[2] - bounds[0]).max(bounds[3] - bounds[1]);
        let step_m = metres_per_px.max(extent / MOST_CELLS);
        let (columns, rows) = (cells(bounds[2] - bounds[0], step_m), cells(bounds[3] - bounds[1], step_m));
        let mut sprite = Self {
            body: first.body,
            offset_m: first.plane_offset_m,
            origin_m: [bounds[0] - 2.0 * step_m, bounds[1] - 2.0 * step_m],
            step_m,
            columns,
            rows,
            cells: vec![[0.0; 2]; columns * rows],
        };
        for (layer, paint) in paints.iter().enumerate() {
            let texture = Texture { seed: seed.wrapping_add(layer as u64 * 7919), grain: paint.grain_m };
            sprite.lay(paint, &texture);
        }
        Some(sprite)
    }

    fn lay(&mut self, paint: &Paint, texture: &Texture) {
        let bounds = widened([f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY], paint);
        let step_m = self.step_m;
        let near = |low: f64, high: f64, place: f64| place > low - step_m && place < high + step_m;
        for row in 0..self.rows {
            let y = self.origin_m[1] + size(row) * self.step_m;
            if !near(bounds[1], bounds[3], y) {
                continue;
            }
            for column in 0..self.columns {
                let x = self.origin_m[0] + size(column) * self.step_m;
                if !near(bounds[0], bounds[2], x) {
                    continue;
                }
                let cover = cover(paint, x, y, self.step_m);
                if cover > 0.0 {
                    let grey = paint.grey + paint.texture_grey * texture.at(x, y);
                    let cell = &mut self.cells[row * self.columns + column];
                    #[expect(clippy::cast_possible_truncation, reason = "grey levels")]
                    {
                        cell[0] = (f64::from(cell[0]) * (1.0 - cover) + grey * cover) as f32;
                        cell[1] = (f64::from(cell[1]) * (1.0 - cover) + cover) as f32;
                    }
                }
            }
        }
    }

    /// Lays the paint over some rows of the picture as it is at an instant.
    pub(super) fn lay_over(
        &self,
        canvas: &mut Canvas,
        rows: std::ops::Range<usize>,
        rays: &[[f32; 2]],
        view: &View,
        now: &Instant,
    ) {
        let frame = view.paint_frame(self.body, now, self.offset_m);
        let Some([left, top, right, bottom]) = self.picture_bounds(canvas, view, &frame) else { return };
        for row in top.max(rows.start)..bottom.min(rows.end) {
            let from = row * canvas.width;
            let line = &mut canvas.grey[from + left..from + right];
            for (grey, ray) in line.iter_mut().zip(&rays[from + left..from + right]) {
                let plane = view.on_plane([f64::from(ray[0]), f64::from(ray[1])], frame.offset_m);
                let at = frame.undone(frame.body_axes(plane));
                if let Some([paint, cover]) = self.sample(at) {
                    *grey = *grey * (1.0 - cover) + paint;
                }
            }
        }
    }

    /// Paint and cover at a place in body axes, between the grid's corners.
    fn sample(&self, at_m: [f64; 2]) -> Option<[f32; 2]> {
        let x = (at_m[0] - self.origin_m[0]) / self.step_m;
        let y = (at_m[1] - self.origin_m[1]) / self.step_m;
        if !(x >= 0.0 && y >= 0.0 && x < size(self.columns - 1) && y < size(self.rows - 1)) {
            return None;
        }
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "inside the grid")]
        let (column, row) = (x as usize, y as usize);
        #[expect(clippy::cast_possible_truncation, reason = "fractions of a cell")]
        let (u, v) = ((x - size(column)) as f32, (y - size(row)) as f32);
        let index = row * self.columns + column;
        let (low, high) =
            (&self.cells[index..index + 2], &self.cells[index + self.columns..index + self.columns + 2]);
        let between = |k: usize| {
            let bottom = low[0][k] + (low[1][k] - low[0][k]) * u;
            let top = high[0][k] + (high[1][k] - high[0][k]) * u;
            bottom + (top - bottom) * v
        };
        Some([between(0), between(1)])
    }

    /// Columns and rows that the paint can touch; the edge is followed because a lens bends it.
    fn picture_bounds(&self, canvas: &Canvas, view: &View, frame: &PaintFrame) -> Option<[usize; 4]> {
        let mut bounds = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
        let extent = [size(self.columns - 1) * self.step_m, size(self.rows - 1) * self.step_m];
        for k in 0..=16 {
            let share = f64::from(k) / 16.0;
            for (u, v) in [(share, 0.0), (share, 1.0), (0.0, share), (1.0, share)] {
                let at = [self.origin_m[0] + u * extent[0], self.origin_m[1] + v * extent[1]];
                let plane = frame.plane_axes(frame.done(at));
                let sighted =
                    crate::view::Sighted { x_m: plane[0], second_m: plane[1], offset_m: frame.offset_m };
                let pixel = view.pixel(sighted);
                bounds = [
                    bounds[0].min(pixel.x),
                    bounds[1].min(pixel.y),
                    bounds[2].max(pixel.x),
                    bounds[3].max(pixel.y),
                ];
            }
        }
        let (left, right) = clipped(bounds[0], bounds[2], canvas.width)?;
        let (top, bottom) = clipped(bounds[1], bounds[3], canvas.height)?;
        Some([left, top, right, bottom])
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the picture")]
fn clipped(low: f64, high: f64, n: usize) -> Option<(usize, usize)> {
    let low = (low - 3.0).floor().clamp(0.0, size(n)) as usize;
    let high = (high + 4.0).ceil().clamp(0.0, size(n)) as usize;
    (high > low).then_some((low, high))
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "at most 2048 cells and a margin"
)]
fn cells(extent_m: f64, step_m: f64) -> usize {
    (extent_m / step_m).ceil().clamp(1.0, MOST_CELLS) as usize + 5
}

fn widened(around: [f64; 4], paint: &Paint) -> [f64; 4] {
    let disc = paint.disc.iter().flat_map(|disc| {
        let [x, y] = disc.at_m;
        [[x - disc.radius_m, y - disc.radius_m], [x + disc.radius_m, y + disc.radius_m]]
    });
    paint
        .outline
        .iter()
        .copied()
        .chain(disc)
        .fold(around, |b, [x, y]| [b[0].min(x), b[1].min(y), b[2].max(x), b[3].max(y)])
}

/// Share of a square cell about a place that the paint covers.
fn cover(paint: &Paint, x: f64, y: f64, step_m: f64) -> f64 {
    let spread = |k: i32| ((f64::from(k) + 0.5) / f64::from(EDGE_SAMPLES) - 0.5) * step_m;
    let inside = (0..EDGE_SAMPLES * EDGE_SAMPLES)
        .filter(|k| contains(paint, x + spread(k % EDGE_SAMPLES), y + spread(k / EDGE_SAMPLES)))
        .count();
    size(inside) / f64::from(EDGE_SAMPLES * EDGE_SAMPLES)
}

fn contains(paint: &Paint, x: f64, y: f64) -> bool {
    if let Some(disc) = &paint.disc {
        return (x - disc.at_m[0]).powi(2) + (y - disc.at_m[1]).powi(2) <= disc.radius_m.powi(2);
    }
    let outline = &paint.outline;
    let mut inside = false;
    for (i, a) in outline.iter().enumerate() {
        let b = outline[(i + 1) % outline.len()];
        if (a[1] > y) != (b[1] > y) && x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
            inside = !inside;
        }
    }
    inside
}
