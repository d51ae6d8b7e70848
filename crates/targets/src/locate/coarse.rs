//! The rough centre of symmetry: how far the window is from its own half-turn about half-pixel places.

use super::window::Window;
use crate::lanes::{LANES, part, total};
use filmgauge_quantities::PixelPoint;
use multiversion::multiversion;

/// A window of this radius shows its rough symmetry on every row, one of twice that on every second, px.
const COARSE_RADIUS_PX: f64 = 8.0;

/// A valley whose floor is below this is that of a clear target; its lowest point is read between the raster's places.
const CLEAR_ASYMMETRY: f64 = 0.1;

impl Window {
    /// The best centre of symmetry on a half-pixel raster within `search_px` of the place given, read between the raster's
    /// places where the target is clear; relative to the origin.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "searches of some pixels inside the cut-out"
    )]
    pub(super) fn coarse_centre(&self, search_px: f64) -> PixelPoint {
        let reach = (2.0 * search_px).floor().max(0.0) as i64;
        if reach == 0 {
            return self.near;
        }
        let turned: Vec<f32> = self.grey.iter().rev().copied().collect();
        let spans = [(0, 0), (1, 0), (0, 1), (1, 1)].map(|odd| self.upper_spans(odd));
        let middle = ((2.0 * self.near.x).round() as i64, (2.0 * self.near.y).round() as i64);
        let width = 2 * reach as usize + 1;
        let step = |k: usize| k as i64 - reach;
        let valley: Vec<f64> = (0..width * width)
            .map(|k| {
                self.asymmetry(&turned, &spans, (middle.0 + step(k % width), middle.1 + step(k / width)))
            })
            .collect();
        let (best, least) = valley
            .iter()
            .copied()
            .enumerate()
            .fold((0, f64::INFINITY), |best, (k, seen)| if seen < best.1 { (k, seen) } else { best });
        let (x, y) = (best % width, best / width);
        let vertex = |at: usize, stride: usize| {
            if least > CLEAR_ASYMMETRY || at == 0 || at + 1 == width {
                return 0.0;
            }
            let (before, after) = (valley[best - stride], valley[best + stride]);
            let curve = before + after - 2.0 * least;
            if curve > 0.0 { (0.5 * (before - after) / curve).clamp(-0.5, 0.5) } else { 0.0 }
        };
        let half = |middle: i64, at: usize, part: f64| 0.5 * ((middle + step(at)) as f64 + part);
        PixelPoint::new(half(middle.0, x, vertex(x, 1)), half(middle.1, y, vertex(y, width)))
    }

    /// Spans of rows down to the middle one, every so many, against a middle that lies on a whole pixel, or by half a pixel
    /// beyond it where `odd` has a 1.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "windows of some pixels")]
    fn upper_spans(&self, odd: (u8, u8)) -> Vec<UpperSpan> {
        let every = (self.outline.radius_px / COARSE_RADIUS_PX).ceil().max(1.0) as usize;
        let middle = (self.side / 2) as i64;
        let centre = PixelPoint::new(middle as f64, middle as f64);
        let span = |(row, columns): (usize, std::ops::RangeInclusive<usize>)| UpperSpan {
            dy: row as i64 - middle,
            dx: *columns.start() as i64 - middle,
            n: columns.end() + 1 - columns.start(),
        };
        let rows = self.outline.rows(centre.moved(f64::from(odd.0) / 2.0, f64::from(odd.1) / 2.0));
        rows.map(span).step_by(every).take_while(|span| span.dy <= 0).collect()
    }

    /// Mean squared difference of opposite pixels over the window's variance, about half of `twice`.
    fn asymmetry(&self, turned: &[f32], spans: &[Vec<UpperSpan>; 4], twice: (i64, i64)) -> f64 {
        let side = self.side as i64;
        let middle = twice.1.div_euclid(2) * side + twice.0.div_euclid(2);
        // In the turned cut-out the opposite row runs the same way.
        let opposite = (side - 1 - twice.1) * side + side - 1 - twice.0;
        let [odd_x, odd_y] = [twice.0, twice.1].map(|twice| usize::from(twice % 2 != 0));
        compare((&self.grey, turned), (middle, middle + opposite), &spans[odd_x + 2 * odd_y], side)
    }
}

/// A row of the window against its middle.
#[derive(Debug, Clone, Copy)]
struct UpperSpan {
    dy: i64,
    dx: i64,
    n: usize,
}

/// Mean squared difference of two cut-outs over spans about a middle in each, over the variance of both; lanes side by side.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
fn compare(cuts: (&[f32], &[f32]), middles: (i64, i64), spans: &[UpperSpan], side: i64) -> f64 {
    let (mut sum, mut squares, mut differences) = ([0.0_f32; LANES], [0.0_f32; LANES], [0.0_f32; LANES]);
    let mut n = 0.0;
    for span in spans {
        let step = span.dy * side + span.dx;
        let (Ok(here), Ok(there)) = (usize::try_from(middles.0 + step), usize::try_from(middles.1 + step))
        else {
            continue;
        };
        for from in (0..span.n).step_by(LANES) {
            let a = part(cuts.0, here + from, here + span.n);
            let b = part(cuts.1, there + from, there + span.n);
            for k in 0..LANES {
                sum[k] += a[k] + b[k];
                squares[k] += a[k] * a[k] + b[k] * b[k];
                differences[k] += (a[k] - b[k]) * (a[k] - b[k]);
            }
        }
        n += 2.0 * span.n as f64;
    }
    let variance = (total(&squares) - total(&sum).powi(2) / n) / n;
    total(&differences) / n / variance.max(1e-9)
}
