//! Patches of a random field whose truth is known everywhere: accuracy against the bound, intervals, masks, refusals.

use super::*;
use crate::BlemishMask;
use crate::painted::Canvas;
use filmgauge_quantities::{GreyImage, PixelCov, PixelPoint};
use nalgebra::SMatrix;
use rand_distr::{Distribution, Uniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

const SIDE: usize = 61;

/// A sum of plane waves of random direction and phase, seen through a Gaussian point spread of 0.7 px and averaged over
/// each pixel's area: both only weaken a wave, so every level is exact.
struct Field {
    waves: Vec<[f64; 4]>,
}

impl Field {
    /// Wavelengths from 3 to 24 px, weaker the shorter; standard deviation of the unblurred levels `contrast`.
    fn new(seed: u64, contrast: f64) -> Self {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let unit = Uniform::new(0.0, 1.0).unwrap();
        let mut waves = Vec::new();
        for _ in 0..100 {
            let mut draw = || unit.sample(&mut random);
            let wavelength = 3.0 * 8.0_f64.powf(draw());
            let (sin, cos) = (std::f64::consts::TAU * draw()).sin_cos();
            let k = std::f64::consts::TAU / wavelength;
            waves.push([k * cos, k * sin, std::f64::consts::TAU * draw(), wavelength.sqrt()]);
        }
        let power: f64 = waves.iter().map(|wave| wave[3] * wave[3] / 2.0).sum();
        waves.iter_mut().for_each(|wave| wave[3] *= contrast / power.sqrt());
        Self { waves }
    }

    /// A picture with the field's centre at `place`.
    fn seen(&self, place: &TexturePlace) -> Canvas {
        let shape = place.shape;
        let det = shape.xx * shape.yy - shape.xy * shape.yx;
        let waves = self.waves.iter().map(|&[kx, ky, phase, height]| {
            let (qx, qy) = ((shape.yy * kx - shape.yx * ky) / det, (shape.xx * ky - shape.xy * kx) / det);
            let spread = (-0.5 * 0.49 * (qx * qx + qy * qy)).exp();
            (qx, qy, phase, height * spread * sinc(qx / 2.0) * sinc(qy / 2.0))
        });
        let waves: Vec<_> = waves.collect();
        Canvas::new(SIDE, SIDE, |x, y| {
            let (dx, dy) = (x - place.centre.x, y - place.centre.y);
            128.0 + waves.iter().map(|(qx, qy, p, h)| h * (qx * dx + qy * dy + p).cos()).sum::<f64>()
        })
    }
}

fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-9 { 1.0 } else { x.sin() / x }
}

/// Cramér–Rao bound of the centre for one grey level of noise: affine warp, gain and offset unknown, all pixels under
/// the patch. Slopes by central differences of the painted picture.
fn bound(field: &Field, place: &TexturePlace, side: usize) -> PixelCov {
    let moved = |k: usize, by: f64| {
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
        field.seen(&place).levels
    };
    let steps: Vec<_> = (0..6)
        .map(|k| {
            let by = if k < 2 { 0.01 } else { 0.001 };
            (moved(k, by), moved(k, -by), 2.0 * by)
        })
        .collect();
    let levels = field.seen(place).levels;
    let det = place.shape.xx * place.shape.yy - place.shape.xy * place.shape.yx;
    let mut information = SMatrix::<f64, 8, 8>::zeros();
    for i in 0..levels.len() {
        let (dx, dy) = ((i % SIDE) as f64 - place.centre.x, (i / SIDE) as f64 - place.centre.y);
        let u = (place.shape.yy * dx - place.shape.xy * dy) / det;
        let v = (place.shape.xx * dy - place.shape.yx * dx) / det;
        if u.abs() > side as f64 / 2.0 || v.abs() > side as f64 / 2.0 {
            continue;
        }
        let mut row = SMatrix::<f64, 8, 1>::zeros();
        for k in 0..6 {
            row[k] = (steps[k].0[i] - steps[k].1[i]) / steps[k].2;
        }
        row[6] = (levels[i] - 128.0) / 30.0;
        row[7] = 1.0;
        information += row * row.transpose();
    }
    let cov = information.try_inverse().unwrap();
    PixelCov { xx: cov[(0, 0)], xy: cov[(0, 1)], yy: cov[(1, 1)] }
}

fn carried(shape: &PatchShape, cov: &PixelCov) -> PixelCov {
    let row = |a: f64, b: f64| (a * cov.xx + b * cov.xy, a * cov.xy + b * cov.yy);
    let (x, y) = (row(shape.xx, shape.xy), row(shape.yx, shape.yy));
    PixelCov {
        xx: x.0 * shape.xx + x.1 * shape.xy,
        xy: x.0 * shape.yx + x.1 * shape.yy,
        yy: y.0 * shape.yx + y.1 * shape.yy,
    }
}

fn first_place() -> TexturePlace {
    TexturePlace::at(PixelPoint::new(30.2, 29.9))
}

/// Places at random: shifts of a pixel, and shapes up to `bend` off.
fn places(seed: u64, n: usize, bend: f64) -> Vec<TexturePlace> {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let even = Uniform::new(-1.0, 1.0).unwrap();
    let mut draw = || even.sample(&mut random);
    (0..n)
        .map(|_| {
            let turned = PatchShape::turned(2.0 * bend * draw(), 1.0 + bend * draw());
            let shape = PatchShape {
                xx: turned.xx + 0.3 * bend * draw(),
                xy: turned.xy + 0.3 * bend * draw(),
                ..turned
            };
            TexturePlace { centre: PixelPoint::new(30.0 + draw(), 30.0 + draw()), shape }
        })
        .collect()
}

struct Tally {
    /// Root mean square error over the bound, template's noise included.
    efficiency: f64,
    /// Stated standard uncertainty over the bound, root mean square.
    stated: f64,
    /// Share of 95 % ellipses that hold the truth.
    inside: f64,
    rms_px: f64,
}

/// A painted pair with its bounds for one grey level of noise.
struct Pair {
    place: TexturePlace,
    start: Canvas,
    later: Canvas,
    of_frame: PixelCov,
    of_start: PixelCov,
}

const PATCH: usize = 31;

fn pairs(n: usize, bend: f64) -> Vec<Pair> {
    let first = first_place();
    let places = places(17, n, bend).into_iter().enumerate();
    places
        .map(|(index, place)| {
            let field = Field::new(5 + index as u64, 45.0);
            let of_start = carried(&place.shape, &bound(&field, &first, PATCH));
            let of_frame = bound(&field, &place, PATCH);
            Pair { place, start: field.seen(&first), later: field.seen(&place), of_frame, of_start }
        })
        .collect()
}

fn tally(pairs: &[Pair], noise: f64, n_template: u64, n_noises: u64, options: &TextureOptions) -> Tally {
    let (mut squares, mut limits, mut stated, mut inside, mut n) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let first = first_place();
    for (index, pair) in pairs.iter().enumerate() {
        for seed in 0..n_noises {
            let seed = 1000 * (index as u64 * n_noises + seed);
            let starts: Vec<GreyImage> =
                (0..n_template).map(|k| pair.start.eight(noise, seed + 1 + k)).collect();
            let views: Vec<_> = starts.iter().map(|image| (image.view(), first.centre)).collect();
            let texture = Texture::averaged(&views, PatchSize::square(PATCH), options).unwrap();
            let frame = pair.later.eight(noise, seed);
            let guess = TexturePlace { centre: pair.place.centre.moved(0.4, -0.3), ..pair.place };
            let found = match_texture(&frame.view(), &guess, &texture, &MatchOptions::default()).unwrap();
            let (dx, dy) = (found.centre.x - pair.place.centre.x, found.centre.y - pair.place.centre.y);
            squares += dx * dx + dy * dy;
            stated += found.cov.xx + found.cov.yy;
            let share = 1.0 / n_template as f64;
            let unit = pair.of_frame.xx + pair.of_frame.yy + share * (pair.of_start.xx + pair.of_start.yy);
            limits += (noise.powi(2) + 1.0 / 12.0) * unit;
            inside += f64::from(found.cov.mahalanobis2(dx, dy).unwrap() < 5.991);
            n += 1.0;
        }
    }
    Tally {
        efficiency: (squares / limits).sqrt(),
        stated: (stated / limits).sqrt(),
        inside: inside / n,
        rms_px: (squares / n / 2.0).sqrt(),
    }
}

#[test]
fn error_is_at_the_bound_and_ellipses_hold() {
    for bend in [0.0, 0.1] {
        let pairs = pairs(6, bend);
        for interpolation in [Interpolation::Cubic, Interpolation::Quintic] {
            for (noise, n_template, blur_change) in
                [(2.0, 1, true), (5.0, 1, true), (5.0, 1, false), (2.0, 8, true)]
            {
                let options = TextureOptions { interpolation, blur_change, ..TextureOptions::default() };
                let tally = tally(&pairs, noise, n_template, 60, &options);
                println!(
                    "{interpolation:?} blur {blur_change} noise {noise} bend {bend} K {n_template}: {:.4} px, {:.3} of the bound, stated {:.3}, {:.3} inside",
                    tally.rms_px, tally.efficiency, tally.stated, tally.inside
                );
            }
        }
    }
}
