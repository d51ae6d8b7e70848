//! One target painted into the picture: area-exact on sub-pixels, averaged over the exposure, spread, and laid over
//! what is behind it.

use super::canvas::Canvas;
use super::pattern::CellShape;
use super::spread::Spread;
use crate::placing::Placed;
use crate::view::size;
use filmgauge_quantities::TargetKind;

/// Light and dark paint.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tones {
    pub light: f32,
    pub dark: f32,
}

/// Paints a target over the canvas; `instants` are averaged with equal weight.
pub(super) fn stamp(
    canvas: &mut Canvas,
    spread: &Spread,
    kind: TargetKind,
    instants: &[Placed],
    tones: Tones,
) {
    let Some(window) = Window::around(canvas, spread, instants) else { return };
    let n_sub = spread.subpixels;
    let (columns, rows) =
        ((window.width + 2 * spread.reach_px) * n_sub, (window.height + 2 * spread.reach_px) * n_sub);
    let mut covered = vec![0.0_f32; columns * rows];
    let mut light = vec![0.0_f32; columns * rows];
    for placed in instants {
        add(&mut covered, &mut light, columns, &window, spread, kind, placed);
    }
    let weight = 1.0 / number_f32(instants.len());
    let covered = spread_out(&covered, columns, rows, &window, spread);
    let light = spread_out(&light, columns, rows, &window, spread);
    for row in 0..window.height {
        let from = (window.top + row) * canvas.width + window.left;
        let line = &mut canvas.grey[from..from + window.width];
        let shares = covered[row * window.width..].iter().zip(&light[row * window.width..]);
        for (grey, (covered, light)) in line.iter_mut().zip(shares) {
            let (covered, light) = (covered * weight, light * weight);
            *grey = *grey * (1.0 - covered) + tones.dark * (covered - light) + tones.light * light;
        }
    }
}

/// The pixels that a target can touch.
#[derive(Debug, Clone, Copy)]
struct Window {
    left: usize,
    top: usize,
    width: usize,
    height: usize,
}

impl Window {
    fn around(canvas: &Canvas, spread: &Spread, instants: &[Placed]) -> Option<Self> {
        let margin = size(spread.reach_px) + 1.0;
        let mut bounds = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
        for placed in instants {
            let (rx, ry) =
                (placed.axes[0][0].hypot(placed.axes[0][1]), placed.axes[1][0].hypot(placed.axes[1][1]));
            bounds[0] = bounds[0].min(placed.centre.x - rx - margin);
            bounds[1] = bounds[1].min(placed.centre.y - ry - margin);
            bounds[2] = bounds[2].max(placed.centre.x + rx + margin);
            bounds[3] = bounds[3].max(placed.centre.y + ry + margin);
        }
        let (left, right) = clipped(bounds[0], bounds[2], canvas.width)?;
        let (top, bottom) = clipped(bounds[1], bounds[3], canvas.height)?;
        Some(Self { left, top, width: right - left, height: bottom - top })
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the picture")]
fn clipped(low: f64, high: f64, n: usize) -> Option<(usize, usize)> {
    let (low, high) = (low.floor().clamp(0.0, size(n)), (high.ceil() + 1.0).clamp(0.0, size(n)));
    (high > low).then_some((low as usize, high as usize))
}

fn add(
    covered: &mut [f32],
    light: &mut [f32],
    columns: usize,
    window: &Window,
    spread: &Spread,
    kind: TargetKind,
    placed: &Placed,
) {
    let Some(to_target) = inverse(placed.axes) else { return };
    let sub = 1.0 / size(spread.subpixels);
    let step_x = [to_target[0][0] * sub, to_target[1][0] * sub];
    let step_y = [to_target[0][1] * sub, to_target[1][1] * sub];
    let shape = CellShape::new([step_x[0] * 0.5, step_x[1] * 0.5], [step_y[0] * 0.5, step_y[1] * 0.5]);
    let first_x = size(window.left) - size(spread.reach_px) - 0.5 + 0.5 * sub - placed.centre.x;
    let first_y = size(window.top) - size(spread.reach_px) - 0.5 + 0.5 * sub - placed.centre.y;
    for (row, (covered, light)) in covered.chunks_mut(columns).zip(light.chunks_mut(columns)).enumerate() {
        let y = first_y + size(row) * sub;
        let start = [
            to_target[0][0] * first_x + to_target[0][1] * y,
            to_target[1][0] * first_x + to_target[1][1] * y,
        ];
        for (column, (covered, light)) in covered.iter_mut().zip(light).enumerate() {
            let n = size(column);
            let share = shape.share(kind, [start[0] + n * step_x[0], start[1] + n * step_x[1]]);
            #[expect(clippy::cast_possible_truncation, reason = "shares between 0 and 1")]
            {
                *covered += share.covered as f32;
                *light += share.light as f32;
            }
        }
    }
}

fn spread_out(from: &[f32], columns: usize, rows: usize, window: &Window, spread: &Spread) -> Vec<f32> {
    let mut narrow = vec![0.0_f32; window.width * rows];
    for row in 0..rows {
        spread.gather(&from[row * columns..], 1, &mut narrow[row * window.width..], 1, window.width);
    }
    let mut out = vec![0.0_f32; window.width * window.height];
    for column in 0..window.width {
        spread.gather(&narrow[column..], window.width, &mut out[column..], window.width, window.height);
    }
    out
}

fn inverse(axes: [[f64; 2]; 2]) -> Option<[[f64; 2]; 2]> {
    let det = axes[0][0] * axes[1][1] - axes[0][1] * axes[1][0];
    (det.abs() > 1e-12)
        .then(|| [[axes[1][1] / det, -axes[0][1] / det], [-axes[1][0] / det, axes[0][0] / det]])
}

#[expect(clippy::cast_precision_loss, reason = "counts of instants are below 2^24")]
fn number_f32(n: usize) -> f32 {
    n as f32
}
