//! Seeded draws: normal errors, cameras with truth, and what many errors come to.

use filmgauge_geometry::{CameraPose, Lens, PosedCamera};
use filmgauge_quantities::{COVERAGE_95, PixelCov, PixelPoint, SpacePoint};
use rand_distr::{Distribution, StandardNormal, StandardUniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use rayon::prelude::*;

/// A source of random numbers that gives the same ones for the same seed.
pub struct Draw(Xoshiro256PlusPlus);

impl Draw {
    /// Starts at a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(seed))
    }

    /// A normal value of standard deviation `sd` about 0.
    pub fn normal(&mut self, sd: f64) -> f64 {
        let value: f64 = StandardNormal.sample(&mut self.0);
        sd * value
    }

    /// A value spread evenly from `least` to `most`.
    pub fn between(&mut self, least: f64, most: f64) -> f64 {
        let share: f64 = StandardUniform.sample(&mut self.0);
        least + share * (most - least)
    }

    /// A place with an error drawn from a covariance.
    pub fn around(&mut self, at: PixelPoint, cov: &PixelCov) -> PixelPoint {
        let (a, b) = (self.normal(1.0), self.normal(1.0));
        let x = cov.xx.sqrt();
        let along = cov.xy / x;
        at.moved(x * a, along * a + (cov.yy - along * along).sqrt() * b)
    }
}

/// The lens of all cameras here: 2400 px, with distortion.
#[must_use]
pub fn lens() -> Lens {
    Lens { k1: -0.12, k2: 0.05, p1: 5e-4, p2: -3e-4, fy_px: 2396.0, ..Lens::pinhole(2400.0, 959.5, 539.5) }
}

/// A camera at a place, looking at another.
///
/// # Panics
/// Where it would look straight up or down; no camera here does.
#[must_use]
pub fn camera(centre: [f64; 3], at: [f64; 3]) -> PosedCamera {
    let place = |at: [f64; 3]| SpacePoint::new(at[0], at[1], at[2]);
    let pose = CameraPose::looking_at(place(centre), place(at));
    PosedCamera::exact(lens(), pose.expect("a camera that looks across"))
}

/// What errors with stated uncertainties come to.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tally {
    /// Errors.
    pub n: usize,
    /// Root mean square error.
    pub rms: f64,
    /// Root mean square of the stated standard uncertainty.
    pub stated: f64,
    /// Share of truths inside the stated 95 % interval.
    pub inside: f64,
}

/// Adds up pairs of error and stated standard uncertainty.
#[must_use]
pub fn tally(pairs: &[(f64, f64)]) -> Tally {
    let n = pairs.len() as f64;
    let root = |square: &dyn Fn(&(f64, f64)) -> f64| (pairs.iter().map(square).sum::<f64>() / n).sqrt();
    Tally {
        n: pairs.len(),
        rms: root(&|pair| pair.0 * pair.0),
        stated: root(&|pair| pair.1 * pair.1),
        inside: pairs.iter().filter(|pair| pair.0.abs() <= COVERAGE_95 * pair.1).count() as f64 / n,
    }
}

/// The answers of all seeds, in their order.
///
/// # Errors
/// The first failure of a draw.
pub fn all<T: Send>(
    n: u64,
    first_seed: u64,
    draw: impl Fn(u64) -> anyhow::Result<T> + Sync,
) -> anyhow::Result<Vec<T>> {
    (0..n).into_par_iter().map(|index| draw(first_seed + index)).collect()
}
