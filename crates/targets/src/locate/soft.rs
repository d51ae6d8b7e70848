//! Slopes of a noisy picture at its pixels, by the derivative of a Gaussian: they hold a tenth of the noise of the
//! spline's slopes, and their noise does not meet that of the opposite side.

use super::opposite::{Readings, Span};

/// Standard deviation of the Gaussian, px: wide enough to quiet the slopes, narrow enough to keep a sharp edge's share.
const SPREAD_PX: f64 = 0.8;
/// Taps to either side.
const REACH: usize = 3;
const N: usize = 2 * REACH + 1;

/// Slopes along x and y, grey/px.
pub(super) struct SoftSlopes {
    x: Vec<f32>,
    y: Vec<f32>,
    side: usize,
    /// Variance of a slope for unit variance of the pixels.
    pub(super) noise_gain: f64,
}

impl SoftSlopes {
    /// Slopes everywhere but in a border of three pixels, where they are 0.
    pub(super) fn of(grey: &[f32], side: usize) -> Self {
        let (mean, slope) = taps();
        let along_x = |taps: &[f32; N], from: &[f32]| across(from, taps, 1);
        let along_y = |taps: &[f32; N], from: &[f32]| across(from, taps, side);
        let power = |taps: &[f32; N]| taps.iter().map(|&tap| f64::from(tap * tap)).sum::<f64>();
        Self {
            x: along_x(&slope, &along_y(&mean, grey)),
            y: along_x(&mean, &along_y(&slope, grey)),
            side,
            noise_gain: power(&mean) * power(&slope),
        }
    }

    /// Slopes at the pixels of spans, span after span.
    pub(super) fn read(&self, spans: &[Span], to: &mut Readings) {
        for (cells, slopes) in [(&mut to.slope_x, &self.x), (&mut to.slope_y, &self.y)] {
            cells.clear();
            for span in spans {
                cells.extend_from_slice(&slopes[span.row * self.side + span.left..][..span.n]);
            }
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

/// One pass of taps over cells that lie `stride` apart.
fn across(cells: &[f32], taps: &[f32; N], stride: usize) -> Vec<f32> {
    let mut out = vec![0.0; cells.len()];
    let (first, last) = (REACH * stride, cells.len().saturating_sub(REACH * stride));
    for (k, &tap) in taps.iter().enumerate() {
        for (cell, level) in out[first..last].iter_mut().zip(&cells[k * stride..]) {
            *cell += tap * level;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ramp_has_its_slopes() {
        let side = 24;
        let level = |i: usize| 3.0 * (i % side) as f32 - 2.0 * (i / side) as f32 + 5.0;
        let ramp: Vec<f32> = (0..side * side).map(level).collect();
        let slopes = SoftSlopes::of(&ramp, side);
        let mut readings = Readings::default();
        let spans = [Span { row: 8, left: 8, n: 3 }, Span { row: 12, left: 6, n: 9 }];
        slopes.read(&spans, &mut readings);
        assert_eq!(readings.slope_x.len(), 12);
        for (x, y) in readings.slope_x.iter().zip(&readings.slope_y) {
            assert!((x - 3.0).abs() < 1e-4 && (y + 2.0).abs() < 1e-4);
        }
        assert!(slopes.noise_gain > 0.05 && slopes.noise_gain < 0.12, "{}", slopes.noise_gain);
    }
}
