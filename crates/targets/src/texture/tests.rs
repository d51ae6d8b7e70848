//! Patches of a random field whose truth is known everywhere: shifts, turns, growth, slant, masks, refusals.

use super::*;
use crate::BlemishMask;
use crate::painted::Canvas;
use filmgauge_quantities::PixelPoint;
use rand_distr::{Distribution, Uniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

/// A sum of many plane waves of random direction and phase: defined between pixels without interpolation.
struct Field {
    waves: Vec<[f64; 4]>,
}

impl Field {
    /// Wavelengths from 4 to 16 px, standard deviation of the levels `contrast`.
    fn new(seed: u64, contrast: f64) -> Self {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let unit = Uniform::new(0.0, 1.0).unwrap();
        let n = 120;
        let height = contrast * (2.0 / f64::from(n)).sqrt();
        let waves = (0..n).map(|_| {
            let mut draw = || unit.sample(&mut random);
            let wavelength = 4.0 + 12.0 * draw();
            let (sin, cos) = (std::f64::consts::TAU * draw()).sin_cos();
            let k = std::f64::consts::TAU / wavelength;
            [k * cos, k * sin, std::f64::consts::TAU * draw(), height]
        });
        Self { waves: waves.collect() }
    }

    /// Level at an offset from the field's centre.
    fn at(&self, u: f64, v: f64) -> f64 {
        128.0 + self.waves.iter().map(|[kx, ky, phase, h]| h * (kx * u + ky * v + phase).cos()).sum::<f64>()
    }

    /// A picture with the field's centre at `place`.
    fn seen(&self, side: usize, place: &TexturePlace) -> Canvas {
        let shape = place.shape;
        let det = shape.xx * shape.yy - shape.xy * shape.yx;
        Canvas::new(side, side, |x, y| {
            let (dx, dy) = (x - place.centre.x, y - place.centre.y);
            self.at((shape.yy * dx - shape.xy * dy) / det, (shape.xx * dy - shape.yx * dx) / det)
        })
    }
}

fn slanted() -> TexturePlace {
    let shape = PatchShape { xx: 1.06, xy: -0.05, yx: 0.08, yy: 0.95 };
    TexturePlace { centre: PixelPoint::new(40.37, 39.58), shape }
}

fn made(field: &Field, noise: f64, options: &TextureOptions) -> Texture {
    let first = TexturePlace::at(PixelPoint::new(40.2, 39.9));
    let start = field.seen(80, &first).eight(noise, 9);
    Texture::new(&start.view(), first.centre, PatchSize::square(31), options).unwrap()
}

#[test]
fn a_slanted_patch_is_found_with_both_splines() {
    let field = Field::new(3, 35.0);
    for interpolation in [Interpolation::Cubic, Interpolation::Quintic] {
        let texture = made(&field, 0.0, &TextureOptions { interpolation, ..TextureOptions::default() });
        let truth = slanted();
        let frame = field.seen(80, &truth).eight(0.0, 4);
        let guess = TexturePlace::at(PixelPoint::new(40.9, 39.0));
        let found = match_texture(&frame.view(), &guess, &texture, &MatchOptions::default()).unwrap();
        assert!(found.centre.distance(truth.centre) < 0.003, "{interpolation:?} {found:?}");
        assert!((found.shape.xx - 1.06).abs() < 1e-3 && (found.shape.yx - 0.08).abs() < 1e-3, "{found:?}");
        assert!(found.zncc > 0.999 && found.left_px < 1e-4, "{found:?}");
    }
}
