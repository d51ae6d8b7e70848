//! A picture of beams with straight sides, seen through a lens that is known exactly: what calibration from edges is held
//! against.

use filmgauge_geometry::Lens;
use filmgauge_quantities::{GreyImage, PixelPoint};
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use rayon::prelude::*;

/// Width and height of the picture, px.
pub const SIZE_PX: (u32, u32) = (960, 640);
const NOISE_GREY: f64 = 2.0;
/// Beams among ideal pixels: both ends of the middle line, and the width.
const BEAMS: [([f64; 4], f64); 5] = [
    ([-80.0, 70.0, 1040.0, 52.0], 44.0),
    ([-80.0, 590.0, 1040.0, 575.0], 40.0),
    ([62.0, 130.0, 70.0, 520.0], 36.0),
    ([900.0, 120.0, 886.0, 515.0], 40.0),
    ([250.0, 160.0, 560.0, 480.0], 48.0),
];

/// The picture's own lens: barrel by k1 alone, about a centre that is not quite the middle.
#[must_use]
pub fn true_lens() -> Lens {
    Lens { k1: -0.16, ..Lens::pinhole(960.0, 487.0, 312.0) }
}

/// The picture, seen with noise; each pixel gathers 3 x 3 samples.
///
/// # Errors
/// When the lens cannot be inverted somewhere in the picture.
pub fn picture(seed: u64) -> anyhow::Result<GreyImage> {
    let lens = true_lens();
    let (width, height) = (SIZE_PX.0 as usize, SIZE_PX.1 as usize);
    let pixel = |i: usize| -> anyhow::Result<f64> {
        let (x, y) = ((i % width) as f64, (i / width) as f64);
        let mut sum = 0.0;
        for k in 0..9 {
            let sub = |k: i32| (f64::from(k) + 0.5) / 3.0 - 0.5;
            sum += level(lens.undistort(PixelPoint::new(x + sub(k % 3), y + sub(k / 3)))?);
        }
        Ok(sum / 9.0)
    };
    let levels = (0..width * height).into_par_iter().map(pixel).collect::<anyhow::Result<Vec<f64>>>()?;
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let noise = Normal::new(0.0, NOISE_GREY)?;
    let grey = levels.into_iter().map(|level| {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let stored = (level + noise.sample(&mut random)).round().clamp(0.0, 255.0) as u8;
        stored
    });
    Ok(GreyImage::from_u8(width, height, grey.collect())?)
}

/// Bright beams before a dark ground, softened by a Gaussian.
fn level(ideal: PixelPoint) -> f64 {
    let soft = |beyond: f64| 0.5 * (1.0 + libm::erf(beyond / (0.6 * std::f64::consts::SQRT_2)));
    let cover = BEAMS.iter().map(|([x, y, to_x, to_y], width)| {
        let length = (to_x - x).hypot(to_y - y);
        let (ax, ay) = ((to_x - x) / length, (to_y - y) / length);
        let (dx, dy) = (ideal.x - x, ideal.y - y);
        let (along, across) = (dx * ax + dy * ay, (dy * ax - dx * ay).abs());
        soft(0.5 * width - across) * soft(along) * soft(length - along)
    });
    60.0 + 130.0 * cover.fold(0.0, f64::max)
}

/// Both ends of one side of each beam as a person would show them: to the nearest pixel, within the picture.
#[must_use]
pub fn shown() -> Vec<[[f64; 2]; 2]> {
    let lens = true_lens();
    let side = |([x, y, to_x, to_y], width): &([f64; 4], f64)| {
        let length = (to_x - x).hypot(to_y - y);
        let (ax, ay) = ((to_x - x) / length, (to_y - y) / length);
        let at = |along: f64| {
            let ideal = PixelPoint::new(x + along * ax - 0.5 * width * ay, y + along * ay + 0.5 * width * ax);
            lens.distort(ideal)
        };
        // As much of the beam as lies well within the picture.
        let is_inside = |at: &PixelPoint| {
            (16.0..f64::from(SIZE_PX.0) - 16.0).contains(&at.x)
                && (16.0..f64::from(SIZE_PX.1) - 16.0).contains(&at.y)
        };
        let seen: Vec<PixelPoint> =
            (0..=200).map(|k| at(8.0 + (length - 16.0) * f64::from(k) / 200.0)).filter(is_inside).collect();
        [seen.first(), seen.last()].map(|end| end.map_or([0.0; 2], |end| [end.x.round(), end.y.round()]))
    };
    BEAMS.iter().map(side).collect()
}

/// The same with the lens' own centre, as if it had been calibrated.
#[must_use]
pub fn centred_text() -> String {
    let lens = true_lens();
    let (x, y) = (lens.cx_px, lens.cy_px);
    format!("centre_px = [{x:?}, {y:?}]\ncentre_uncertainty_px = 2.0\n{}", edges_text())
}

/// The edges file for them.
#[must_use]
pub fn edges_text() -> String {
    let edge = |(n, [from, to]): (usize, [[f64; 2]; 2])| {
        format!("[[edge]]\nname = \"beam {}\"\npoints_px = [{from:?}, {to:?}]\n", n + 1)
    };
    shown().into_iter().enumerate().map(edge).collect()
}
