//! Where a target is in the picture: its centre by exact projection, its shape by the projection's local slope.

use crate::dynamics::{Instant, Truth};
use crate::scene::TargetPaint;
use crate::view::{Sighted, View};
use filmgauge_quantities::PixelPoint;

/// Rounds in which a place and the exposure of its row are brought together.
const ROLLING_ROUNDS: usize = 6;

/// Where a target is at one instant: its centre, and the pixel displacement of one radius along its two axes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Placed {
    pub centre: PixelPoint,
    /// Columns are the images of the target's right and up radius, px.
    pub axes: [[f64; 2]; 2],
}

impl Placed {
    /// A target of the scene at an instant.
    pub(crate) fn target(view: &View, target: &TargetPaint, now: &Instant) -> Self {
        Self::about(target.radius_m, |local| view.pixel(view.sighted(target, now, local)))
    }

    /// A target whose rows are exposed one after the other: every place of it is taken when its own row is exposed.
    /// `late_s` is the time of row 0, `row_time_s` that from row to row.
    pub(crate) fn rolling(
        view: &View,
        target: &TargetPaint,
        truth: &Truth,
        late_s: f64,
        row_time_s: f64,
    ) -> Self {
        Self::about(target.radius_m, |local| {
            let at = |row: f64| view.pixel(view.sighted(target, &truth.at(late_s + row * row_time_s), local));
            // The row decides the time and the time the row; each round shrinks the error by v t_row, far below 1.
            (0..ROLLING_ROUNDS).fold(at(0.0), |pixel, _| at(pixel.y))
        })
    }

    /// A mark in the board plane.
    pub(crate) fn board_mark(view: &View, at_m: [f64; 2], radius_m: f64) -> Self {
        Self::about(radius_m, |local| {
            view.pixel(Sighted { x_m: at_m[0] + local[0], second_m: at_m[1] + local[1], offset_m: 0.0 })
        })
    }

    /// Mean radius in the picture, px.
    pub(crate) fn radius_px(&self) -> f64 {
        (self.axes[0][0] * self.axes[1][1] - self.axes[0][1] * self.axes[1][0]).abs().sqrt()
    }

    /// The edge of the target, eight points of it.
    pub(crate) fn rim(&self) -> [PixelPoint; 8] {
        std::array::from_fn(|k| {
            let angle = f64::from(u8::try_from(k).unwrap_or(0)) * std::f64::consts::FRAC_PI_4;
            let (sin, cos) = angle.sin_cos();
            self.centre.moved(
                self.axes[0][0] * cos + self.axes[0][1] * sin,
                self.axes[1][0] * cos + self.axes[1][1] * sin,
            )
        })
    }

    /// Central differences over a tenth of the radius: the slope to better than 1e-6 for any usable lens.
    fn about(radius_m: f64, pixel: impl Fn([f64; 2]) -> PixelPoint) -> Self {
        let step = 0.1 * radius_m;
        let slope = |a: PixelPoint, b: PixelPoint| [(a.x - b.x) / 0.2, (a.y - b.y) / 0.2];
        let right = slope(pixel([step, 0.0]), pixel([-step, 0.0]));
        let up = slope(pixel([0.0, step]), pixel([0.0, -step]));
        Self { centre: pixel([0.0, 0.0]), axes: [[right[0], up[0]], [right[1], up[1]]] }
    }
}
