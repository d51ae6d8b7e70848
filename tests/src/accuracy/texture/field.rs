//! Painted texture with exact truth: plane waves, the point spread and the pixel's area only weaken each.

use filmgauge_quantities::{GreyImage, PixelCov, PixelPoint};
use filmgauge_targets::{PatchShape, TexturePlace};
use nalgebra::SMatrix;
use rand_distr::{Distribution, StandardNormal, StandardUniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

/// Sides of the painted pictures, px.
pub const SIDE: usize = 81;

/// Standard deviation of the painted Gaussian point spread, px.
pub const SPREAD_PX: f64 = 0.7;

/// Standard deviation of the levels before the point spread, grey.
pub const CONTRAST: f64 = 45.0;

/// A sum of plane waves of random direction and phase, 3 to 24 px long, weaker the shorter.
pub struct Field {
    waves: Vec<[f64; 4]>,
}

impl Field {
    /// A field of its own for each seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self::of_waves(seed, 3.0)
    }

    /// A field whose shortest wave is given, px.
    #[must_use]
    pub fn of_waves(seed: u64, shortest_px: f64) -> Self {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let mut draw = || StandardUniform.sample(&mut random);
        let mut waves: Vec<[f64; 4]> = (0..100)
            .map(|_| {
                let wavelength: f64 = shortest_px * (24.0 / shortest_px).powf(draw());
                let (sin, cos) = (std::f64::consts::TAU * draw()).sin_cos();
                let k = std::f64::consts::TAU / wavelength;
                [k * cos, k * sin, std::f64::consts::TAU * draw(), wavelength.sqrt()]
            })
            .collect();
        let power: f64 = waves.iter().map(|wave| wave[3] * wave[3] / 2.0).sum();
        waves.iter_mut().for_each(|wave| wave[3] *= CONTRAST / power.sqrt());
        Self { waves }
    }

    /// Levels of a picture with the field's centre at `place`, row after row.
    #[must_use]
    pub fn seen(&self, place: &TexturePlace) -> Vec<f64> {
        let shape = place.shape;
        let det = shape.xx * shape.yy - shape.xy * shape.yx;
        let waves = self.waves.iter().map(|&[kx, ky, phase, height]| {
            let (qx, qy) = ((shape.yy * kx - shape.yx * ky) / det, (shape.xx * ky - shape.xy * kx) / det);
            let spread = (-0.5 * SPREAD_PX * SPREAD_PX * (qx * qx + qy * qy)).exp();
            (qx, qy, phase, height * spread * sinc(qx / 2.0) * sinc(qy / 2.0))
        });
        let waves: Vec<_> = waves.collect();
        let pixels = (0..SIDE * SIDE).map(|i| {
            let (dx, dy) = ((i % SIDE) as f64 - place.centre.x, (i / SIDE) as f64 - place.centre.y);
            128.0 + waves.iter().map(|(qx, qy, p, h)| h * (qx * dx + qy * dy + p).cos()).sum::<f64>()
        });
        pixels.collect()
    }

    /// Cramér–Rao bound of the centre for one grey level of noise: affine warp, gain and offset unknown, all pixels
    /// under the patch of `side` px. Slopes by central differences of the painted picture.
    #[must_use]
    pub fn bound(&self, place: &TexturePlace, side: usize) -> PixelCov {
        let steps: Vec<_> = (0..6)
            .map(|k| {
                let by = if k < 2 { 0.01 } else { 0.001 };
                (self.seen(&moved(place, k, by)), self.seen(&moved(place, k, -by)), 2.0 * by)
            })
            .collect();
        let levels = self.seen(place);
        let shape = place.shape;
        let det = shape.xx * shape.yy - shape.xy * shape.yx;
        let mut information = SMatrix::<f64, 8, 8>::zeros();
        for (i, level) in levels.iter().enumerate() {
            let (dx, dy) = ((i % SIDE) as f64 - place.centre.x, (i / SIDE) as f64 - place.centre.y);
            let u = (shape.yy * dx - shape.xy * dy) / det;
            let v = (shape.xx * dy - shape.yx * dx) / det;
            if u.abs().max(v.abs()) > side as f64 / 2.0 {
                continue;
            }
            let mut row = SMatrix::<f64, 8, 1>::zeros();
            for (k, (high, low, step)) in steps.iter().enumerate() {
                row[k] = (high[i] - low[i]) / step;
            }
            (row[6], row[7]) = ((level - 128.0) / CONTRAST, 1.0);
            information += row * row.transpose();
        }
        let cov = information.try_inverse().unwrap_or_else(SMatrix::zeros);
        PixelCov { xx: cov[(0, 0)], xy: cov[(0, 1)], yy: cov[(1, 1)] }
    }
}

fn moved(place: &TexturePlace, k: usize, by: f64) -> TexturePlace {
    let mut place = *place;
    let to = match k {
        0 => &mut place.centre.x,
        1 => &mut place.centre.y,
        2 => &mut place.shape.xx,
        3 => &mut place.shape.xy,
        4 => &mut place.shape.yx,
        _ => &mut place.shape.yy,
    };
    *to += by;
    place
}

fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-9 { 1.0 } else { x.sin() / x }
}

/// Rounded to 8 bits after adding normal noise; no noise for 0.
#[must_use]
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "levels are clamped to 0 to 255")]
pub fn eight(levels: &[f64], noise: f64, seed: u64) -> Vec<u8> {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let normal = |random: &mut Xoshiro256PlusPlus| -> f64 { StandardNormal.sample(random) };
    levels.iter().map(|level| (level + noise * normal(&mut random)).round().clamp(0.0, 255.0) as u8).collect()
}

/// Rounded to 16 bits, 256 steps to a grey level, without noise.
///
/// # Errors
/// Never: the sizes fit.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "levels are clamped to 16 bits")]
pub fn sixteen(levels: &[f64]) -> anyhow::Result<GreyImage> {
    let samples = levels.iter().map(|level| (256.0 * level).round().clamp(0.0, 65535.0) as u16);
    Ok(GreyImage::from_u16(SIDE, SIDE, 16, samples.collect())?)
}

/// How a patch may look in the later frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Motion {
    /// Shifted by up to a pixel.
    Shift,
    /// Turned by up to 20° as well.
    Turn,
    /// Grown 0.9 to 1.1 times as well.
    Scale,
    /// Slanted by up to 0.1 in every entry.
    Slant,
}

/// Places at random, the centre within a pixel of the picture's middle.
#[must_use]
pub fn places(seed: u64, n: usize, motion: Motion) -> Vec<TexturePlace> {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let mut draw = || -> f64 { 2.0 * Distribution::<f64>::sample(&StandardUniform, &mut random) - 1.0 };
    let middle = (SIDE / 2) as f64;
    (0..n)
        .map(|_| {
            let mut entry = || 0.1 * draw();
            let shape = match motion {
                Motion::Shift => PatchShape::default(),
                Motion::Turn => PatchShape::turned(3.5 * entry(), 1.0),
                Motion::Scale => PatchShape::turned(0.0, 1.0 + entry()),
                Motion::Slant => {
                    PatchShape { xx: 1.0 + entry(), xy: entry(), yx: entry(), yy: 1.0 + entry() }
                }
            };
            TexturePlace { centre: PixelPoint::new(middle + draw(), middle + draw()), shape }
        })
        .collect()
}

/// The painted bytes as an image.
///
/// # Errors
/// Never for bytes from [`eight`].
pub fn image(bytes: Vec<u8>) -> anyhow::Result<GreyImage> {
    Ok(GreyImage::from_u8(SIDE, SIDE, bytes)?)
}
