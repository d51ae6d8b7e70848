//! Reads a picture between its pixels along rings about a place.

use super::ellipse::Ellipse;
use super::rays::{N_RAYS, directions};
use filmgauge_quantities::{GreyPixels, GreyView};

/// Bits of a place's fraction.
const BITS: u32 = 20;
const ONE: f64 = (1_u32 << BITS) as f64;

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

/// Rings of an ellipse at equal steps of its radius, as places of a picture in whole parts of a pixel.
#[derive(Debug, Clone)]
pub(super) struct Rings<'a> {
    picture: Picture<'a>,
    centre: [i64; 2],
    steps: [[i64; 2]; N_RAYS],
    /// Rings that lie wholly in the picture.
    pub(super) n_inside: usize,
}

impl<'a> Rings<'a> {
    /// Rings at multiples of `step` of the radius.
    #[expect(clippy::cast_possible_truncation, reason = "places lie in the picture or no ring is read")]
    pub(super) fn new(picture: Picture<'a>, ellipse: &Ellipse, step: f64) -> Self {
        let scale = ONE / picture.scale_px;
        let (map, centre) = (ellipse.map * (step * scale), [ellipse.centre.x, ellipse.centre.y]);
        let centre = centre.map(|at| (at * scale) as i64);
        let mut steps = [[0; 2]; N_RAYS];
        for (step, (cos, sin)) in steps.iter_mut().zip(directions()) {
            *step = [(map.m11 * cos + map.m12 * sin) as i64, (map.m21 * cos + map.m22 * sin) as i64];
        }
        let reach = [0, 1].map(|axis| steps.iter().map(|step| step[axis].abs()).max().unwrap_or(0).max(1));
        let room = |axis: usize| {
            let end = (picture.size[axis] as i64 - 1) << BITS;
            (centre[axis].min(end - 1 - centre[axis]) / reach[axis]).max(0)
        };
        let n_inside = usize::try_from(room(0).min(room(1))).unwrap_or(0);
        Self { picture, centre, steps, n_inside }
    }

    /// Levels on ring `number`, counted from 1, of `N` rays evenly spread; `None` when it leaves the picture.
    pub(super) fn some<const N: usize>(&self, number: usize) -> Option<[f32; N]> {
        if number > self.n_inside {
            return None;
        }
        Some(match self.picture.samples {
            Samples::Eight(samples) => self.read(samples, number as i64),
            Samples::Sixteen(samples) => self.read(samples, number as i64),
            Samples::Float(samples) => self.read(samples, number as i64),
        })
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the ring lies in the picture, so its places are positive"
    )]
    fn read<const N: usize, T: Copy + Into<f32>>(&self, samples: &[T], number: i64) -> [f32; N] {
        let fraction = |at: i64| (at & ((1 << BITS) - 1)) as i32 as f32 / ONE as f32;
        let mut levels = [0.0; N];
        for (level, step) in levels.iter_mut().zip(self.steps.iter().step_by(N_RAYS / N)) {
            let [x, y] = [self.centre[0] + number * step[0], self.centre[1] + number * step[1]];
            let at = (y >> BITS) as usize * self.picture.stride + (x >> BITS) as usize;
            let (fx, fy) = (fraction(x), fraction(y));
            let two = |row: &[T]| {
                let (left, right): (f32, f32) = (row[0].into(), row[1].into());
                left + fx * (right - left)
            };
            let top = two(&samples[at..at + 2]);
            let bottom = two(&samples[at + self.picture.stride..][..2]);
            *level = top + fy * (bottom - top);
        }
        levels
    }
}
