//! Painted targets with exact truth for the tests: a quartered disc under a Gaussian point spread,
//! averaged over the pixel's area and over the exposure.

use filmgauge_quantities::{GreyImage, PixelPoint};
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

/// Places and weights of three-point Gauss-Legendre quadrature over one pixel.
const ACROSS_PIXEL: [(f64, f64); 3] =
    [(-0.387_298_334_620_741_7, 5.0 / 18.0), (0.0, 8.0 / 18.0), (0.387_298_334_620_741_7, 5.0 / 18.0)];

/// A quartered disc.
#[derive(Debug, Clone)]
pub(crate) struct Painted {
    pub(crate) centre: PixelPoint,
    pub(crate) radius_px: f64,
    pub(crate) angle_rad: f64,
    pub(crate) dark: f64,
    pub(crate) bright: f64,
    /// Standard deviation of the point spread, px.
    pub(crate) spread_px: f64,
    /// Way of the target during the exposure, px.
    pub(crate) smear: (f64, f64),
}

impl Painted {
    pub(crate) fn new(x: f64, y: f64, radius_px: f64) -> Self {
        let centre = PixelPoint::new(x, y);
        Self {
            centre,
            radius_px,
            angle_rad: 0.3,
            dark: 45.0,
            bright: 195.0,
            spread_px: 0.7,
            smear: (0.0, 0.0),
        }
    }

    /// Level and coverage of the target at a point at mid-exposure plus `moment` (-0.5 to 0.5).
    fn at(&self, x: f64, y: f64, moment: f64) -> (f64, f64) {
        let dx = x - self.centre.x - moment * self.smear.0;
        let dy = y - self.centre.y - moment * self.smear.1;
        let (sin, cos) = self.angle_rad.sin_cos();
        let soft = |d: f64| erf(d / (self.spread_px * std::f64::consts::SQRT_2));
        let quarters = soft(dx * cos + dy * sin) * soft(dy * cos - dx * sin);
        let cover = (1.0 + soft(self.radius_px - dx.hypot(dy))) / 2.0;
        ((self.bright + self.dark) / 2.0 + quarters * (self.bright - self.dark) / 2.0, cover)
    }

    /// Grey level of the pixel (x, y) over a background level.
    pub(crate) fn pixel(&self, x: f64, y: f64, background: f64) -> f64 {
        let smear = self.smear.0.hypot(self.smear.1);
        let n_moments = if smear > 0.0 { (4.0 * smear).ceil().max(4.0) as usize } else { 1 };
        let mut sum = 0.0;
        for k in 0..n_moments {
            let moment = (k as f64 + 0.5) / n_moments as f64 - 0.5;
            for (ox, wx) in ACROSS_PIXEL {
                for (oy, wy) in ACROSS_PIXEL {
                    let (level, cover) = self.at(x + ox, y + oy, moment);
                    sum += wx * wy * (cover * level + (1.0 - cover) * background);
                }
            }
        }
        sum / n_moments as f64
    }
}

/// A picture before noise and rounding.
#[derive(Clone)]
pub(crate) struct Canvas {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) levels: Vec<f64>,
}

impl Canvas {
    pub(crate) fn new(width: usize, height: usize, background: impl Fn(f64, f64) -> f64) -> Self {
        let levels =
            (0..width * height).map(|i| background((i % width) as f64, (i / width) as f64)).collect();
        Self { width, height, levels }
    }

    pub(crate) fn paint(mut self, target: &Painted) -> Self {
        let reach = target.radius_px + 5.0 + target.smear.0.hypot(target.smear.1);
        let near = |at: f64, length: usize| {
            let low = (at - reach).max(0.0) as usize;
            low..((at + reach).max(0.0) as usize + 1).min(length)
        };
        for y in near(target.centre.y, self.height) {
            for x in near(target.centre.x, self.width) {
                let level = &mut self.levels[y * self.width + x];
                *level = target.pixel(x as f64, y as f64, *level);
            }
        }
        self
    }

    /// Changes every level by a function of place and level.
    pub(crate) fn changed(mut self, change: impl Fn(f64, f64, f64) -> f64) -> Self {
        for (i, level) in self.levels.iter_mut().enumerate() {
            *level = change((i % self.width) as f64, (i / self.width) as f64, *level);
        }
        self
    }

    /// Rounded to 8 bits after adding normal noise.
    pub(crate) fn eight(&self, noise: f64, seed: u64) -> GreyImage {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let normal = Normal::new(0.0, noise.max(1e-12)).unwrap();
        let levels = self.levels.iter();
        let samples =
            levels.map(|level| (level + normal.sample(&mut random)).round().clamp(0.0, 255.0) as u8);
        GreyImage::from_u8(self.width, self.height, samples.collect()).unwrap()
    }

    /// Rounded to 16 bits, 256 steps to a grey level, without noise.
    pub(crate) fn sixteen(&self) -> GreyImage {
        let samples = self.levels.iter().map(|level| (256.0 * level).round().clamp(0.0, 65535.0) as u16);
        GreyImage::from_u16(self.width, self.height, 16, samples.collect()).unwrap()
    }
}

/// Smooth uneven background, a few waves of different length.
pub(crate) fn uneven(x: f64, y: f64) -> f64 {
    115.0
        + 0.02 * x
        + 14.0 * (0.05 * x + 0.3).sin() * (0.06 * y).cos()
        + 9.0 * (0.21 * x + 0.13 * y).sin()
        + 6.0 * (0.37 * x - 0.31 * y).cos()
}

/// Error function (Abramowitz & Stegun 7.1.26, within 1.5e-7).
pub(crate) fn erf(x: f64) -> f64 {
    let a = x.abs();
    let t = 1.0 / (1.0 + 0.327_591_1 * a);
    let poly = t
        * (0.254_829_592
            + t * (-0.284_496_736 + t * (1.421_413_741 + t * (-1.453_152_027 + t * 1.061_405_429))));
    let value = 1.0 - poly * (-a * a).exp();
    if x < 0.0 { -value } else { value }
}
