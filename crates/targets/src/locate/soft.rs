//! Slopes of a noisy picture at its pixels, by the derivative of a Gaussian: they hold a tenth of the noise of the
//! spline's slopes, and their noise does not meet that of the opposite side.

use ndarray::Array2;

/// Standard deviation of the Gaussian, px: wide enough to quiet the slopes, narrow enough to keep a sharp edge's share.
const SPREAD_PX: f64 = 0.8;
/// Taps to either side.
const REACH: usize = 3;
const N: usize = 2 * REACH + 1;

/// Slopes along x and y, grey/px.
pub(super) struct SoftSlopes {
    pub(super) x: Array2<f32>,
    pub(super) y: Array2<f32>,
    /// Variance of a slope for unit variance of the pixels.
    pub(super) noise_gain: f64,
}

impl SoftSlopes {
    /// Slopes everywhere but in a border of three pixels, where they are 0.
    pub(super) fn of(grey: &Array2<f32>) -> Self {
        let (mean, slope) = taps();
        let along_x = |taps: &[f32; N], from: &Array2<f32>| across(from, taps, true);
        let along_y = |taps: &[f32; N], from: &Array2<f32>| across(from, taps, false);
        let power = |taps: &[f32; N]| taps.iter().map(|&tap| f64::from(tap * tap)).sum::<f64>();
        Self {
            x: along_x(&slope, &along_y(&mean, grey)),
            y: along_x(&mean, &along_y(&slope, grey)),
            noise_gain: power(&mean) * power(&slope),
        }
    }
}

/// A Gaussian of unit sum, and its derivative such that a ramp of one grey a pixel has the slope 1.
#[expect(clippy::cast_possible_truncation, reason = "tap weights are meant in single precision")]
fn taps() -> ([f32; N], [f32; N]) {
    let bell = |k: usize| (-0.5 * ((k as f64 - REACH as f64) / SPREAD_PX).powi(2)).exp();
    let sum: f64 = (0..N).map(bell).sum();
    let moment: f64 = (0..N).map(|k| bell(k) * (k as f64 - REACH as f64).powi(2)).sum();
    let (mut mean, mut slope) = ([0.0; N], [0.0; N]);
    for k in 0..N {
        mean[k] = (bell(k) / sum) as f32;
        slope[k] = (bell(k) * (k as f64 - REACH as f64) / moment) as f32;
    }
    (mean, slope)
}

/// One pass of taps along rows or columns.
fn across(from: &Array2<f32>, taps: &[f32; N], is_along_x: bool) -> Array2<f32> {
    let (n_rows, n_columns) = from.dim();
    let mut to = Array2::zeros((n_rows, n_columns));
    let (Some(cells), Some(out)) = (from.as_slice(), to.as_slice_mut()) else { return to };
    let stride = if is_along_x { 1 } else { n_columns };
    let (first, last) = (REACH * stride, cells.len().saturating_sub(REACH * stride));
    for (k, &tap) in taps.iter().enumerate() {
        for (cell, level) in out[first..last].iter_mut().zip(&cells[k * stride..]) {
            *cell += tap * level;
        }
    }
    to
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ramp_has_its_slopes() {
        let ramp = Array2::from_shape_fn((20, 24), |(y, x)| 3.0 * x as f32 - 2.0 * y as f32 + 5.0);
        let slopes = SoftSlopes::of(&ramp);
        for (y, x) in [(8, 8), (10, 15), (12, 6)] {
            assert!((slopes.x[[y, x]] - 3.0).abs() < 1e-4 && (slopes.y[[y, x]] + 2.0).abs() < 1e-4);
        }
        assert!(slopes.noise_gain > 0.05 && slopes.noise_gain < 0.12, "{}", slopes.noise_gain);
    }
}
