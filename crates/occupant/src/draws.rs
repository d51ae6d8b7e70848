//! Draws of the Monte Carlo: the same for a seed on every machine.

use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};

pub(crate) struct Draws(Xoshiro256PlusPlus);

impl Draws {
    pub(crate) fn new(seed: u64) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(seed))
    }

    /// Standard normal.
    pub(crate) fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// A whole number below `n`, which is above 0.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.0.next_u64() % n as u64).unwrap_or_default()
    }
}
