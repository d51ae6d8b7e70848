//! Seeded random streams: one per purpose, so that nothing depends on the order of work or the number of threads.

use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};

/// A reproducible stream of numbers.
#[derive(Debug, Clone)]
pub(crate) struct Stream(Xoshiro256PlusPlus);

impl Stream {
    /// The stream of one purpose: the scene's seed, a word, and two counters such as camera and frame.
    pub(crate) fn new(seed: u64, purpose: &str, first: u64, second: u64) -> Self {
        let mut key = mixed(seed ^ 0x9e37_79b9_7f4a_7c15);
        for byte in purpose.bytes() {
            key = mixed(key ^ u64::from(byte));
        }
        Self(Xoshiro256PlusPlus::seed_from_u64(mixed(mixed(key ^ first) ^ second.rotate_left(32))))
    }

    /// A draw from the normal distribution of mean 0 and the given standard deviation.
    pub(crate) fn normal(&mut self, sd: f64) -> f64 {
        let unit: f64 = StandardNormal.sample(&mut self.0);
        unit * sd
    }

    /// A draw from the standard normal distribution in single precision, for pictures.
    pub(crate) fn unit_normal_f32(&mut self) -> f32 {
        StandardNormal.sample(&mut self.0)
    }

    /// A draw from the uniform distribution on [0, 1).
    pub(crate) fn uniform(&mut self) -> f64 {
        unit_from_bits(self.0.next_u64())
    }

    /// A draw from the uniform distribution on [-half, half).
    pub(crate) fn within(&mut self, half: f64) -> f64 {
        (2.0 * self.uniform() - 1.0) * half
    }
}

/// A well-mixed value in [0, 1) at a whole-numbered lattice point.
pub(crate) fn lattice_value(seed: u64, column: i64, row: i64) -> f64 {
    unit_from_bits(mixed(mixed(seed ^ column.cast_unsigned()) ^ row.cast_unsigned().rotate_left(32)))
}

#[expect(clippy::cast_precision_loss, reason = "53 bits fit a double exactly")]
fn unit_from_bits(bits: u64) -> f64 {
    (bits >> 11) as f64 / (1_u64 << 53) as f64
}

/// The finaliser of SplitMix64 (Steele, Lea & Flood 2014, OOPSLA): every input bit reaches every output bit.
fn mixed(value: u64) -> u64 {
    let value = value.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let value = (value ^ (value >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let value = (value ^ (value >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    value ^ (value >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn streams_repeat_and_differ_by_purpose() {
        let first = Stream::new(7, "noise", 0, 3).normal(1.0);
        assert_eq!(first.to_bits(), Stream::new(7, "noise", 0, 3).normal(1.0).to_bits());
        assert_ne!(first.to_bits(), Stream::new(7, "noise", 0, 4).normal(1.0).to_bits());
        assert_ne!(first.to_bits(), Stream::new(7, "board", 0, 3).normal(1.0).to_bits());
    }

    #[test]
    fn normal_draws_have_the_spread_asked_for() {
        let mut stream = Stream::new(1, "spread", 0, 0);
        let draws: Vec<f64> = (0..20_000).map(|_| stream.normal(2.0)).collect();
        let mean = draws.iter().sum::<f64>() / 20_000.0;
        let variance = draws.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / 19_999.0;
        assert!(mean.abs() < 0.06 && (variance - 4.0).abs() < 0.16);
    }
}
