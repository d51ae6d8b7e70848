//! The frame as a pyramid of floats: each level half as fine, with one and with two passes of a small bell over it.

use filmgauge_quantities::{GreyPixels, GreyView};
use rayon::prelude::*;

/// Levels below which a picture is too small to halve, px.
const LEAST_SIDE: usize = 6;

/// A picture of grey levels.
#[derive(Debug, Clone)]
pub(super) struct Plane {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) grey: Vec<f32>,
}

/// One level; its pixel (x, y) is the frame's (x, y) times its scale.
#[derive(Debug, Clone)]
pub(super) struct Level {
    /// The level itself.
    pub(super) plain: Plane,
    /// After one pass, and after two.
    pub(super) smooth: [Plane; 2],
    /// Standard deviations of the two bells, pixels of the level.
    pub(super) spreads: [f64; 2],
    /// Size of its pixel, px of the frame.
    pub(super) scale_px: f64,
}

/// All levels of a frame, finest first, down to the one that suits `coarsest_px`.
#[must_use]
pub(super) fn levels(view: &GreyView, coarsest_px: f64) -> Vec<Level> {
    let mut levels = Vec::new();
    let mut plain = floats(view);
    let (mut variance, mut scale_px) = (0.0_f64, 1.0);
    loop {
        let once = smoothed(&plain);
        let twice = smoothed(&once);
        let next = halved(&once);
        let spreads = [(variance + 1.0).sqrt(), (variance + 2.0).sqrt()];
        levels.push(Level { plain, smooth: [once, twice], spreads, scale_px });
        if scale_px >= coarsest_px || next.width.min(next.height) < LEAST_SIDE {
            return levels;
        }
        plain = next;
        variance = (variance + 1.0) / 4.0;
        scale_px *= 2.0;
    }
}

fn floats(view: &GreyView) -> Plane {
    let (width, height, stride) = (view.width(), view.height(), view.stride());
    let mut grey = vec![0.0_f32; width * height];
    let rows = grey.par_chunks_mut(width.max(1)).enumerate();
    match view.pixels() {
        GreyPixels::Eight(samples) => rows.for_each(|(y, row)| {
            row.iter_mut().zip(&samples[y * stride..]).for_each(|(to, &from)| *to = f32::from(from));
        }),
        GreyPixels::Sixteen(samples) => rows.for_each(|(y, row)| {
            row.iter_mut().zip(&samples[y * stride..]).for_each(|(to, &from)| *to = f32::from(from));
        }),
    }
    Plane { width, height, grey }
}

/// A bell of 1 4 6 4 1 along rows and columns; the edge pixels repeat outwards.
fn smoothed(plane: &Plane) -> Plane {
    let (width, height) = (plane.width, plane.height);
    let mut grey = vec![0.0_f32; width * height];
    grey.par_chunks_mut(width.max(1)).enumerate().for_each(|(y, row)| {
        let line = |dy: isize| {
            let at = y.saturating_add_signed(dy).min(height - 1) * width;
            &plane.grey[at..at + width]
        };
        let (a, b, c, d, e) = (line(-2), line(-1), line(0), line(1), line(2));
        let mut column = vec![0.0_f32; width + 4];
        for x in 0..width {
            column[x + 2] = (a[x] + e[x] + 4.0 * (b[x] + d[x]) + 6.0 * c[x]) / 256.0;
        }
        (column[0], column[1]) = (column[2], column[2]);
        (column[width + 2], column[width + 3]) = (column[width + 1], column[width + 1]);
        for (x, to) in row.iter_mut().enumerate() {
            *to = column[x] + column[x + 4] + 4.0 * (column[x + 1] + column[x + 3]) + 6.0 * column[x + 2];
        }
    });
    Plane { width, height, grey }
}

/// Every second pixel of every second row.
fn halved(plane: &Plane) -> Plane {
    let (width, height) = (plane.width.div_ceil(2), plane.height.div_ceil(2));
    let rows = plane.grey.chunks(plane.width.max(1)).step_by(2);
    let grey = rows.flat_map(|row| row.iter().step_by(2).copied()).collect();
    Plane { width, height, grey }
}

impl Plane {
    /// Level between pixels, bilinear; `None` outside.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "places outside the picture are turned away first"
    )]
    pub(super) fn at(&self, x: f64, y: f64) -> Option<f64> {
        let is_inside = x >= 0.0 && y >= 0.0 && x < self.width as f64 - 1.0 && y < self.height as f64 - 1.0;
        if !is_inside {
            return None;
        }
        let (column, row) = (x as usize, y as usize);
        let (fx, fy) = ((x - column as f64) as f32, (y - row as f64) as f32);
        let two = |row: usize| {
            let from = row * self.width + column;
            self.grey[from] + fx * (self.grey[from + 1] - self.grey[from])
        };
        let (top, bottom) = (two(row), two(row + 1));
        Some(f64::from(top + fy * (bottom - top)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::painted::Canvas;

    #[test]
    fn a_slope_stays_the_same_slope_on_every_level() {
        let image = Canvas::new(128, 96, |x, y| 20.0 + x + 0.5 * y).eight(0.0, 1);
        let levels = levels(&image.view(), 8.0);
        assert!(levels.len() == 3 || levels.len() == 4, "{}", levels.len());
        for level in &levels {
            let (x, y) = (64.0, 48.0);
            let seen = level.smooth[0].at(x / level.scale_px, y / level.scale_px).unwrap();
            assert!((seen - 108.0).abs() < 0.5, "{seen}");
        }
        assert!(levels[0].plain.at(127.5, 3.0).is_none());
    }
}
