//! Quintic B-spline interpolation of a small picture: coefficients, taps at a sub-pixel phase, and how
//! much white noise the interpolation lets through.
//!
//! Recursive prefilter after Unser, Aldroubi & Eden 1993 (IEEE Trans. Signal Processing 41:821-848).

use multiversion::multiversion;
use std::sync::LazyLock;

/// Poles of the quintic B-spline's prefilter (Unser et al. 1993, table of poles, n = 5).
const POLES: [f64; 2] = [-0.430_575_347_099_973_8, -0.043_096_288_203_264_65];

/// Samples over which the slower pole's memory has faded below 1e-5.
const FADE: usize = 14;

/// Samples to either side over which the prefilter's impulse response is summed; beyond, it is below 1e-7.
const MEMORY_SPAN: usize = 20;

/// Pixels that one interpolated value reaches to the left (2) and right (3) of its floor.
pub(crate) const N_TAPS: usize = 6;

/// Spline coefficients of a square of `side` pixels a row, whose edges are mirrored.
pub(crate) fn coefficients(grey: &[f32], side: usize) -> Vec<f32> {
    let mut cells = grey.to_vec();
    let mut turned = vec![0.0; cells.len()];
    if side >= 2 {
        filter_columns(&mut cells, side);
        transpose(&cells, &mut turned, side);
        filter_columns(&mut turned, side);
        transpose(&turned, &mut cells, side);
    }
    cells
}

fn transpose(from: &[f32], to: &mut [f32], side: usize) {
    for (y, row) in from.chunks_exact(side).enumerate() {
        for (x, cell) in row.iter().enumerate() {
            to[x * side + y] = *cell;
        }
    }
}

/// Runs the prefilter down every column at once, row by row, so that the inner loop has no recursion.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
#[expect(clippy::cast_possible_truncation, reason = "filter constants are meant in single precision")]
fn filter_columns(cells: &mut [f32], side: usize) {
    let (n_rows, n_columns) = (cells.len() / side, side);
    let gain: f64 = POLES.iter().map(|z| (1.0 - z) * (1.0 - 1.0 / z)).product();
    cells.iter_mut().for_each(|cell| *cell *= gain as f32);
    for pole in POLES {
        let z = pole as f32;
        let mut power = z;
        for k in 1..FADE.min(n_rows) {
            let (first, rest) = cells.split_at_mut(n_columns);
            add_scaled(first, &rest[(k - 1) * n_columns..k * n_columns], power);
            power *= z;
        }
        for row in 1..n_rows {
            let (before, after) = cells.split_at_mut(row * n_columns);
            add_scaled(&mut after[..n_columns], &before[(row - 1) * n_columns..], z);
        }
        let last = (n_rows - 1) * n_columns;
        let end = (pole / (pole * pole - 1.0)) as f32;
        let (before, after) = cells.split_at_mut(last);
        for (cell, above) in after.iter_mut().zip(&before[last - n_columns..]) {
            *cell = end * (*cell + z * above);
        }
        for row in (0..n_rows - 1).rev() {
            let (before, after) = cells.split_at_mut((row + 1) * n_columns);
            for (cell, below) in before[row * n_columns..].iter_mut().zip(&after[..n_columns]) {
                *cell = z * (below - *cell);
            }
        }
    }
}

#[inline(always)]
fn add_scaled(to: &mut [f32], from: &[f32], factor: f32) {
    for (cell, other) in to.iter_mut().zip(from) {
        *cell += factor * other;
    }
}

/// Weights of the six coefficients around a place, for the value and for its slope.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Taps {
    /// Weights of the value; entry j belongs to the coefficient at floor + j - 2.
    pub(crate) value: [f64; N_TAPS],
    /// Weights of the slope, per pixel.
    pub(crate) slope: [f64; N_TAPS],
}

impl Taps {
    /// Taps at `phase` (0 to 1) beyond a coefficient.
    pub(crate) fn at(phase: f64) -> Self {
        let mut taps = Self { value: [0.0; N_TAPS], slope: [0.0; N_TAPS] };
        for (j, offset) in [-2.0, -1.0, 0.0, 1.0, 2.0, 3.0].into_iter().enumerate() {
            taps.value[j] = quintic(phase - offset);
            taps.slope[j] = quintic_slope(phase - offset);
        }
        taps
    }

    /// How white noise of unit variance comes through these taps (prefilter included), along one axis.
    pub(crate) fn noise(&self, memory: &PrefilterMemory) -> NoiseGain {
        let mut gain = NoiseGain::default();
        for j in 0..N_TAPS {
            for k in 0..N_TAPS {
                let same = memory.at(j.abs_diff(k));
                gain.value += self.value[j] * self.value[k] * same;
                gain.slope += self.slope[j] * self.slope[k] * same;
                gain.mixed += self.slope[j] * self.value[k] * same;
                gain.neighbour += self.value[j] * self.value[k] * memory.at((j + 1).abs_diff(k));
            }
        }
        gain
    }
}

/// Variances and covariances of interpolated unit white noise along one axis.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct NoiseGain {
    /// Variance of the value.
    pub(crate) value: f64,
    /// Variance of the slope.
    pub(crate) slope: f64,
    /// Covariance of slope and value at one place.
    pub(crate) mixed: f64,
    /// Covariance of two values one pixel apart.
    pub(crate) neighbour: f64,
}

/// Autocorrelation of the prefilter's impulse response at lags of 0 to 6 samples.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PrefilterMemory([f64; N_TAPS + 1]);

impl PrefilterMemory {
    /// The one there is, made at its first use.
    pub(crate) fn known() -> &'static Self {
        static KNOWN: LazyLock<PrefilterMemory> = LazyLock::new(PrefilterMemory::new);
        &KNOWN
    }

    /// From the poles, by partial fractions of 1 / B(x), B the sampled quintic B-spline.
    fn new() -> Self {
        let [z1, z2] = POLES;
        let cross = z1 * (1.0 + z2 * z2) - z2 * (1.0 + z1 * z1);
        let scale = 120.0 * z1 * z2;
        let (a, b) = (scale * z1 / cross / (1.0 - z1 * z1), -scale * z2 / cross / (1.0 - z2 * z2));
        let mut response = [0.0; 2 * MEMORY_SPAN + 1];
        let (mut slow, mut fast) = (a, b);
        for k in 0..=MEMORY_SPAN {
            response[MEMORY_SPAN + k] = slow + fast;
            response[MEMORY_SPAN - k] = slow + fast;
            slow *= z1;
            fast *= z2;
        }
        let mut lags = [0.0; N_TAPS + 1];
        for (lag, cell) in lags.iter_mut().enumerate() {
            *cell = response.iter().zip(&response[lag..]).map(|(early, late)| early * late).sum();
        }
        Self(lags)
    }

    fn at(&self, lag: usize) -> f64 {
        self.0[lag]
    }
}

/// The quintic B-spline.
fn quintic(t: f64) -> f64 {
    let a = t.abs();
    if a < 1.0 {
        (66.0 + a * a * (-60.0 + a * a * (30.0 - 10.0 * a))) / 120.0
    } else if a < 2.0 {
        (51.0 + a * (75.0 + a * (-210.0 + a * (150.0 + a * (-45.0 + 5.0 * a))))) / 120.0
    } else if a < 3.0 {
        (3.0 - a).powi(5) / 120.0
    } else {
        0.0
    }
}

/// Its first derivative.
fn quintic_slope(t: f64) -> f64 {
    let a = t.abs();
    let slope = if a < 1.0 {
        a * (-120.0 + a * a * (120.0 - 50.0 * a)) / 120.0
    } else if a < 2.0 {
        (75.0 + a * (-420.0 + a * (450.0 + a * (-180.0 + 25.0 * a)))) / 120.0
    } else if a < 3.0 {
        -(3.0 - a).powi(4) / 24.0
    } else {
        0.0
    };
    if t < 0.0 { -slope } else { slope }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIDE: usize = 42;

    fn value(coefs: &[f32], x: f64, y: f64) -> f64 {
        let (taps_x, taps_y) = (Taps::at(x - x.floor()), Taps::at(y - y.floor()));
        let (left, top) = (x.floor() as usize - 2, y.floor() as usize - 2);
        let mut sum = 0.0;
        for j in 0..N_TAPS {
            for k in 0..N_TAPS {
                sum += taps_y.value[j] * taps_x.value[k] * f64::from(coefs[(top + j) * SIDE + left + k]);
            }
        }
        sum
    }

    #[test]
    fn the_spline_passes_through_its_pixels_and_follows_a_wave() {
        let wave = |x: f64, y: f64| 100.0 + 40.0 * (0.7 * x + 0.3).sin() * (0.5 * y).cos();
        let level = |i: usize| wave((i % SIDE) as f64, (i / SIDE) as f64) as f32;
        let coefs = coefficients(&(0..SIDE * SIDE).map(level).collect::<Vec<f32>>(), SIDE);
        for (x, y) in [(20.0, 20.0), (15.3, 22.7), (25.5, 17.5)] {
            assert!((value(&coefs, x, y) - wave(x, y)).abs() < 2e-3, "{x} {y}");
        }
    }

    #[test]
    fn slope_taps_are_the_derivative_of_value_taps() {
        for phase in [0.0, 0.2, 0.5, 0.9] {
            let (low, high, taps) = (Taps::at(phase - 1e-6), Taps::at(phase + 1e-6), Taps::at(phase));
            for j in 0..N_TAPS {
                let slope = (high.value[j] - low.value[j]) / 2e-6;
                assert!((slope - taps.slope[j]).abs() < 1e-8, "{phase} {j}: {slope} {}", taps.slope[j]);
            }
        }
    }

    #[test]
    fn noise_gain_is_one_at_a_pixel_and_less_between() {
        let memory = PrefilterMemory::new();
        let at_pixel = Taps::at(0.0).noise(&memory);
        assert!((at_pixel.value - 1.0).abs() < 1e-9 && at_pixel.mixed.abs() < 1e-9);
        assert!(at_pixel.neighbour.abs() < 1e-9);
        let between = Taps::at(0.5).noise(&memory);
        assert!(between.value > 0.7 && between.value < 0.95, "{between:?}");
    }
}
