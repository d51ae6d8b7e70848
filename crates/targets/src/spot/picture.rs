//! Reads a picture between its pixels along rings about a place.

use super::ellipse::Ellipse;
use super::rays::{N_RAYS, directions};
use filmgauge_quantities::{GreyPixels, GreyView};
use multiversion::multiversion;

/// Grey levels in the width they are stored in.
#[derive(Debug, Clone, Copy)]
pub(super) enum Samples<'a> {
    Eight(&'a [u8]),
    Sixteen(&'a [u16]),
    Float(&'a [f32]),
}

/// A borrowed picture; its pixel (x, y) is the frame's (x, y) times its scale.
#[derive(Debug, Clone, Copy)]
pub(super) struct Picture<'a> {
    pub(super) size: [usize; 2],
    pub(super) stride: usize,
    pub(super) samples: Samples<'a>,
    pub(super) scale_px: f64,
}

impl<'a> Picture<'a> {
    /// The frame as stored.
    pub(super) fn of(view: &GreyView<'a>) -> Self {
        let samples = match view.pixels() {
            GreyPixels::Eight(samples) => Samples::Eight(samples),
            GreyPixels::Sixteen(samples) => Samples::Sixteen(samples),
        };
        Self { size: [view.width(), view.height()], stride: view.stride(), samples, scale_px: 1.0 }
    }
}

/// Rings of an ellipse at equal steps of its radius, as places of a picture.
#[derive(Debug, Clone)]
pub(super) struct Rings<'a> {
    picture: Picture<'a>,
    centre: [f32; 2],
    step_x: [f32; N_RAYS],
    step_y: [f32; N_RAYS],
    /// Rings that lie wholly in the picture.
    pub(super) n_inside: usize,
}

impl<'a> Rings<'a> {
    /// Rings at multiples of `step` of the radius.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "places in a picture in single precision; room is above 0"
    )]
    pub(super) fn new(picture: Picture<'a>, ellipse: &Ellipse, step: f64) -> Self {
        let scale = 1.0 / picture.scale_px;
        let (map, centre) = (ellipse.map * (step * scale), [ellipse.centre.x, ellipse.centre.y]);
        let centre = centre.map(|at| (at * scale) as f32);
        let (mut step_x, mut step_y) = ([0.0; N_RAYS], [0.0; N_RAYS]);
        for ((x, y), (cos, sin)) in step_x.iter_mut().zip(&mut step_y).zip(directions()) {
            (*x, *y) = ((map.m11 * cos + map.m12 * sin) as f32, (map.m21 * cos + map.m22 * sin) as f32);
        }
        let reach = |steps: &[f32; N_RAYS]| steps.iter().fold(1e-6_f32, |most, step| most.max(step.abs()));
        let room = |axis: usize, reach: f32| {
            // A little inside the outermost pixels, so that rounding never leads beyond them.
            let size = picture.size[axis] as f32;
            let margin = (1e-6 * size).max(0.01);
            ((centre[axis] - margin).min(size - 1.0 - margin - centre[axis]) / reach).max(0.0) as usize
        };
        let n_inside = room(0, reach(&step_x)).min(room(1, reach(&step_y)));
        Self { picture, centre, step_x, step_y, n_inside }
    }

    /// Levels on ring `number`, counted from 1, of `N` rays evenly spread; `None` when it leaves the picture.
    pub(super) fn some<const N: usize>(&self, number: usize) -> Option<[f32; N]> {
        if number > self.n_inside {
            return None;
        }
        let mut levels = [0.0; N];
        match self.picture.samples {
            Samples::Eight(samples) => read_eight(self, samples, number as f32, &mut levels),
            Samples::Sixteen(samples) => read_sixteen(self, samples, number as f32, &mut levels),
            Samples::Float(samples) => read_float(self, samples, number as f32, &mut levels),
        }
        Some(levels)
    }

    /// All rays, or as many of them as there are levels to be read: known lengths make straight code.
    #[inline(always)]
    fn read_all<T: Copy + Into<f32>>(&self, samples: &[T], number: f32, levels: &mut [f32]) {
        if let Ok(levels) = <&mut [f32; N_RAYS]>::try_from(&mut *levels) {
            self.read(samples, number, levels);
        } else {
            self.read(samples, number, levels);
        }
    }

    #[inline(always)]
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the ring lies in the picture, so its places are positive"
    )]
    fn read<T: Copy + Into<f32>>(&self, samples: &[T], number: f32, levels: &mut [f32]) {
        let stride = self.picture.stride;
        let n = levels.len();
        let every = N_RAYS / n;
        let (mut column, mut row) = ([0_i32; N_RAYS], [0_i32; N_RAYS]);
        let mut fractions = [[0.0_f32; N_RAYS]; 2];
        let mut corners = [[0.0_f32; N_RAYS]; 4];
        for k in 0..n {
            let x = self.centre[0] + number * self.step_x[k * every];
            let y = self.centre[1] + number * self.step_y[k * every];
            (column[k], row[k]) = (x as i32, y as i32);
            fractions[0][k] = x - column[k] as f32;
            fractions[1][k] = y - row[k] as f32;
        }
        for k in 0..n {
            let first = row[k] as usize * stride + column[k] as usize;
            let four = &samples[first..first + stride + 2];
            corners[0][k] = four[0].into();
            corners[1][k] = four[1].into();
            corners[2][k] = four[stride].into();
            corners[3][k] = four[stride + 1].into();
        }
        for (k, level) in levels.iter_mut().enumerate() {
            let top = corners[0][k] + fractions[0][k] * (corners[1][k] - corners[0][k]);
            let bottom = corners[2][k] + fractions[0][k] * (corners[3][k] - corners[2][k]);
            *level = top + fractions[1][k] * (bottom - top);
        }
    }
}

#[multiversion(targets("x86_64+avx2"))]
fn read_eight(rings: &Rings, samples: &[u8], number: f32, levels: &mut [f32]) {
    rings.read_all(samples, number, levels);
}

#[multiversion(targets("x86_64+avx2"))]
fn read_sixteen(rings: &Rings, samples: &[u16], number: f32, levels: &mut [f32]) {
    rings.read_all(samples, number, levels);
}

#[multiversion(targets("x86_64+avx2"))]
fn read_float(rings: &Rings, samples: &[f32], number: f32, levels: &mut [f32]) {
    rings.read_all(samples, number, levels);
}
