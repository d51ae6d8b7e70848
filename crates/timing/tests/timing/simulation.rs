//! Seeded noise and simulated films whose times are known exactly.

use filmgauge_timing::{Edge, Pulse};
use rand_distr::{Distribution, StandardNormal, Uniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

/// A seeded source of noise.
pub struct Noise(Xoshiro256PlusPlus);

impl Noise {
    pub fn new(seed: u64) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(seed))
    }

    /// Normal, with standard deviation `sd`.
    pub fn normal(&mut self, sd: f64) -> f64 {
        let sample: f64 = StandardNormal.sample(&mut self.0);
        sd * sample
    }

    /// Even from `from` to `to`.
    pub fn even(&mut self, from: f64, to: f64) -> f64 {
        Uniform::new(from, to).map_or(from, |even| even.sample(&mut self.0))
    }
}

/// Marks at the given frames with normal noise of `u` frames.
pub fn noisy_marks(frames: impl Iterator<Item = f64>, u: f64, noise: &mut Noise) -> Vec<Pulse> {
    frames.map(|frame| Pulse { frame: frame + noise.normal(u), u_frames: u, edge: Edge::On }).collect()
}

/// Share of the exposure of a frame during which a lamp is lit that goes on at `on`.
pub fn lit_share(frame: f64, on: f64, exposure_share: f64) -> f64 {
    ((frame - on) / exposure_share + 0.5).clamp(0.0, 1.0)
}

/// Counts of intervals that hold the truth.
#[derive(Debug, Default)]
pub struct Coverage {
    held: f64,
    all: f64,
    squared_errors: f64,
    squared_u: f64,
}

impl Coverage {
    /// Whether value ± 1.96 u holds the truth.
    pub fn add(&mut self, (value, u): (f64, f64), truth: f64) {
        self.all += 1.0;
        self.squared_errors += (value - truth).powi(2);
        self.squared_u += u * u;
        if (value - truth).abs() <= filmgauge_quantities::COVERAGE_95 * u {
            self.held += 1.0;
        }
    }

    /// Share that held.
    pub fn share(&self) -> f64 {
        self.held / self.all
    }

    /// Prints share, root mean square error and root mean square of the stated uncertainty.
    #[expect(clippy::print_stdout, reason = "the figures that the methods page states")]
    fn print(&self, what: &str) {
        let root_mean = |sum: f64| (sum / self.all).sqrt();
        let (error, u) = (root_mean(self.squared_errors), root_mean(self.squared_u));
        println!(
            "{what}: {:.3} of {} hold the truth, rms error {error:.3e}, u {u:.3e}",
            self.share(),
            self.all
        );
    }

    /// Fails unless the share lies in 90 to 99 %.
    pub fn assert(&self, what: &str) {
        self.assert_at_least(what);
        assert!(self.share() <= 0.99, "{what}: {:.3}", self.share());
    }

    /// Fails unless the share is 90 % at least: where the stated uncertainty is known to be on the wide side.
    pub fn assert_at_least(&self, what: &str) {
        self.print(what);
        assert!(self.share() >= 0.90, "{what}: {:.3}", self.share());
    }
}
