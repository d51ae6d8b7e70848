//! Smooth seeded texture: two octaves of value noise.

use crate::random::lattice_value;

/// A texture with about one bump per grain.
#[derive(Debug, Clone, Copy)]
pub(super) struct Texture {
    pub seed: u64,
    /// Grain, in the unit of the places asked for.
    pub grain: f64,
}

impl Texture {
    /// Value in about [-0.5, 0.5] at a place.
    pub(super) fn at(&self, x: f64, y: f64) -> f64 {
        let coarse = smooth(self.seed, x / self.grain, y / self.grain);
        let fine = smooth(self.seed ^ 0x5bd1_e995, 2.1 * x / self.grain + 0.37, 2.1 * y / self.grain + 0.71);
        0.65 * coarse + 0.35 * fine - 0.5
    }
}

fn smooth(seed: u64, x: f64, y: f64) -> f64 {
    let (column, row) = (x.floor(), y.floor());
    let (u, v) = (fade(x - column), fade(y - row));
    #[expect(clippy::cast_possible_truncation, reason = "places of a picture are far below 2^63 grains")]
    let (i, j) = (column as i64, row as i64);
    let top = mixed(lattice_value(seed, i, j), lattice_value(seed, i + 1, j), u);
    let bottom = mixed(lattice_value(seed, i, j + 1), lattice_value(seed, i + 1, j + 1), u);
    mixed(top, bottom, v)
}

/// Perlin's fade of fifth degree: no kink in the second derivative.
fn fade(t: f64) -> f64 {
    t * t * t * (t * (t * 6.0 - 15.0) + 10.0)
}

fn mixed(a: f64, b: f64, t: f64) -> f64 {
    a + (b - a) * t
}
