//! The frame as a pyramid: the frame as stored, then levels of floats, each half as fine, with one and with two passes of
//! a small bell over it.

use super::bells::{add_columns, add_every_second, add_rows, slight_row, smooth_row};
use super::picture::{Picture, Samples};
use filmgauge_quantities::{GreyPixels, GreyView};
use rayon::prelude::*;

/// Levels below which a picture is too small to halve, px.
const LEAST_SIDE: usize = 6;
/// Rows that one thread takes at a time.
const ROWS: usize = 16;

/// A picture of grey levels.
#[derive(Debug, Clone)]
pub(super) struct Plane {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) grey: Vec<f32>,
}

/// One level below the frame itself; its pixel (x, y) is the frame's (x, y) times its scale.
#[derive(Debug, Clone)]
pub(super) struct Level {
    /// The level itself.
    plain: Plane,
    /// After one pass and after two, with the standard deviations of the bells, pixels of the level.
    pub(super) smooth: [(Plane, f64); 2],
    /// Size of its pixel, px of the frame.
    pub(super) scale_px: f64,
}

/// A frame and its levels.
#[derive(Debug, Clone)]
pub(super) struct Pyramid<'a> {
    frame: GreyView<'a>,
    /// Levels, finest first, beginning with pixels of 2 px.
    pub(super) levels: Vec<Level>,
}

/// Standard deviation of the bell of [`Pyramid::finest`], px of the frame: √2.
pub(super) const FINEST_SPREAD_PX: f64 = std::f64::consts::SQRT_2;

impl<'a> Pyramid<'a> {
    /// All levels of a frame down to the one that suits `coarsest_px`.
    #[must_use]
    pub(super) fn new(view: &GreyView<'a>, coarsest_px: f64) -> Self {
        let mut levels = Vec::new();
        let (mut plain, mut variance, mut scale_px) = (smoothed_frame(view, 2), 0.25_f64, 2.0);
        while plain.width.min(plain.height) >= LEAST_SIDE {
            let once = smoothed(&plain);
            let twice = smoothed(&once);
            let next = halved(&once);
            let smooth = [(once, (variance + 1.0).sqrt()), (twice, (variance + 2.0).sqrt())];
            levels.push(Level { plain, smooth, scale_px });
            if scale_px >= coarsest_px {
                break;
            }
            plain = next;
            variance = (variance + 1.0) / 4.0;
            scale_px *= 2.0;
        }
        Self { frame: *view, levels }
    }

    /// The finest level under a bell of [`FINEST_SPREAD_PX`].
    pub(super) fn finest(&self) -> Option<(Plane, f64)> {
        let level = self.levels.first()?;
        Some((slightly_smoothed(&level.plain), FINEST_SPREAD_PX / level.scale_px))
    }

    /// The coarsest picture on which `radius_px` is `least` of its pixels or more; the frame itself where none is.
    pub(super) fn picture(&self, radius_px: f64, least: f64) -> Picture<'_> {
        match self.levels.iter().rev().find(|level| radius_px / level.scale_px >= least) {
            Some(Level { plain, scale_px, .. }) => Picture {
                size: [plain.width, plain.height],
                stride: plain.width,
                samples: Samples::Float(&plain.grey),
                scale_px: *scale_px,
            },
            None => Picture::of(&self.frame),
        }
    }
}

/// Every `every`-th pixel of every `every`-th row of the frame under one pass of the bell; `every` is 1 or 2.
pub(super) fn smoothed_frame(view: &GreyView, every: usize) -> Plane {
    match view.pixels() {
        GreyPixels::Eight(samples) => frame_of(view, samples, every),
        GreyPixels::Sixteen(samples) => frame_of(view, samples, every),
    }
}

fn frame_of<T: Copy + Into<u32> + Sync>(view: &GreyView, samples: &[T], every: usize) -> Plane {
    let (width, height) = (view.width().div_ceil(every), view.height().div_ceil(every));
    let mut grey = vec![0.0_f32; width * height];
    grey.par_chunks_mut(width * ROWS).enumerate().for_each(|(band, rows)| {
        let mut columns = vec![0_u32; view.width() + 5];
        for (k, row) in rows.chunks_mut(width).enumerate() {
            let line = |dy: isize| {
                let y = (every * (band * ROWS + k)).saturating_add_signed(dy).min(view.height() - 1);
                &samples[y * view.stride()..][..view.width()]
            };
            add_rows([line(-2), line(-1), line(0), line(1), line(2)], &mut columns);
            if every == 1 { add_columns(&columns, row) } else { add_every_second(&columns, row) }
        }
    });
    Plane { width, height, grey }
}

/// A bell of 1 6 1 along rows and columns, whose variance is a quarter; pixels at the edge stay as they are.
fn slightly_smoothed(plane: &Plane) -> Plane {
    let width = plane.width;
    let mut out = plane.clone();
    let rows = out.grey.par_chunks_mut(width).enumerate();
    rows.filter(|(y, _)| (1..plane.height - 1).contains(y)).for_each(|(y, row)| {
        let line = |y: usize| &plane.grey[y * width..(y + 1) * width];
        slight_row([line(y - 1), line(y), line(y + 1)], &mut row[1..width - 1]);
    });
    out
}

/// A bell of 1 4 6 4 1 along rows and columns; the edge pixels repeat outwards.
fn smoothed(plane: &Plane) -> Plane {
    let (width, height) = (plane.width, plane.height);
    let mut grey = vec![0.0_f32; width * height];
    grey.par_chunks_mut(width * ROWS).enumerate().for_each(|(band, rows)| {
        let mut columns = vec![0.0_f32; width + 4];
        for (k, row) in rows.chunks_mut(width).enumerate() {
            let line = |dy: isize| {
                let y = (band * ROWS + k).saturating_add_signed(dy).min(height - 1);
                &plane.grey[y * width..(y + 1) * width]
            };
            smooth_row([line(-2), line(-1), line(0), line(1), line(2)], &mut columns, row);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::painted::Canvas;

    #[test]
    fn a_slope_stays_the_same_slope_on_every_level() {
        let image = Canvas::new(128, 96, |x, y| 20.0 + x + 0.5 * y).eight(0.0, 1);
        let pyramid = Pyramid::new(&image.view(), 8.0);
        assert_eq!(pyramid.levels.len(), 3);
        for level in &pyramid.levels {
            let at = |side: f64| (side / level.scale_px) as usize;
            for (plane, _) in &level.smooth {
                let seen = plane.grey[at(48.0) * plane.width + at(64.0)];
                assert!((seen - 108.0).abs() < 0.5, "{seen}");
            }
        }
    }

    #[test]
    fn levels_of_both_sample_widths_are_alike() {
        let eight = Canvas::new(61, 43, |x, y| 20.0 + x + 0.5 * y).eight(3.0, 1);
        let view = eight.view();
        let samples = (0..61 * 43).filter_map(|i| view.get(i % 61, i / 61)).map(|level| level as u16 * 256);
        let sixteen = filmgauge_quantities::GreyImage::from_u16(61, 43, 16, samples.collect()).unwrap();
        let (low, high) = (smoothed_frame(&view, 2), smoothed_frame(&sixteen.view(), 2));
        assert_eq!((low.width, low.height), (31, 22));
        assert!(low.grey.iter().zip(&high.grey).all(|(a, b)| a * 256.0 == *b));
    }
}
