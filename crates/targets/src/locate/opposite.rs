//! The window's spline read at pixels and opposite them: values and slopes along spans of rows.
//!
//! What lies opposite about a centre is read from the cut-out turned by half a turn, where it runs the same way as the
//! pixels do.

use crate::lanes::{self, LANES};
use crate::spline::{N_TAPS, Taps};
use multiversion::multiversion;

/// Pixels of one row of the window.
#[derive(Debug, Clone, Copy)]
pub(super) struct Span {
    pub(super) row: usize,
    pub(super) left: usize,
    pub(super) n: usize,
}

/// Spline coefficients of a square cut-out, and room behind them, so that whole lanes may be read at its end.
#[derive(Debug, Clone)]
pub(super) struct Coefs {
    cells: Vec<f32>,
    side: usize,
}

/// Weights of coefficients from a first row and column on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reading {
    /// Row and column of the first coefficient, for the pixel in row 0, column 0.
    first: (isize, isize),
    value: ([f32; N_TAPS], [f32; N_TAPS]),
    slope: ([f32; N_TAPS], [f32; N_TAPS]),
}

/// Values and slopes, span after span.
#[derive(Debug, Clone, Default)]
pub(super) struct Readings {
    pub(super) value: Vec<f32>,
    pub(super) slope_x: Vec<f32>,
    pub(super) slope_y: Vec<f32>,
    down: Vec<f32>,
    down_slope: Vec<f32>,
}

impl Coefs {
    pub(super) fn new(coefs: &[f32], side: usize) -> Self {
        Self::with_room(coefs.iter(), side)
    }

    /// The same, turned by half a turn.
    pub(super) fn turned(coefs: &[f32], side: usize) -> Self {
        Self::with_room(coefs.iter().rev(), side)
    }

    fn with_room<'a>(coefs: impl ExactSizeIterator<Item = &'a f32>, side: usize) -> Self {
        let mut cells = Vec::with_capacity(coefs.len() + 3 * LANES);
        cells.extend(coefs);
        cells.resize(cells.len() + 3 * LANES, 0.0);
        Self { cells, side }
    }
}

impl Reading {
    /// The pixels themselves.
    pub(super) fn at_pixels(taps: &Taps) -> Self {
        let (value, slope) = (single(&taps.value), single(&taps.slope));
        Self { first: (-2, -2), value: (value, value), slope: (slope, slope) }
    }

    /// The places opposite to pixels, in the turned cut-out: twice the centre is `whole` (x, y) plus the phases of the taps.
    pub(super) fn opposite(side: usize, whole: (f64, f64), taps: (&Taps, &Taps)) -> Self {
        let turned = |weights: &[f64; N_TAPS]| {
            let mut weights = single(weights);
            weights.reverse();
            weights
        };
        #[expect(clippy::cast_possible_truncation, reason = "twice a centre inside the cut-out")]
        let first = |whole: f64| side as isize - 4 - whole as isize;
        Self {
            first: (first(whole.1), first(whole.0)),
            value: (turned(&taps.0.value), turned(&taps.1.value)),
            slope: (turned(&taps.0.slope), turned(&taps.1.slope)),
        }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "tap weights are meant in single precision")]
fn single(weights: &[f64; N_TAPS]) -> [f32; N_TAPS] {
    weights.map(|weight| weight as f32)
}

impl Readings {
    /// Reads all spans.
    pub(super) fn take(&mut self, coefs: &Coefs, spans: &[Span], reading: &Reading) {
        let n: usize = spans.iter().map(|span| span.n).sum();
        let widest = spans.iter().map(|span| span.n).max().unwrap_or(0);
        for cells in [&mut self.value, &mut self.slope_x, &mut self.slope_y] {
            cells.resize(n + LANES, 0.0);
        }
        for cells in [&mut self.down, &mut self.down_slope] {
            cells.resize(widest + 3 * LANES, 0.0);
        }
        read(&coefs.cells, coefs.side, spans, reading, self);
        for cells in [&mut self.value, &mut self.slope_x, &mut self.slope_y] {
            cells.truncate(n);
        }
    }
}

/// Down the columns first, then along the row. Whole lanes are worked on: what goes beyond a span is written over by the
/// next one.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
fn read(coefs: &[f32], side: usize, spans: &[Span], reading: &Reading, to: &mut Readings) {
    let ((value_x, value_y), (slope_x, slope_y)) = (reading.value, reading.slope);
    let mut from = 0;
    for span in spans {
        let n = span.n.next_multiple_of(LANES);
        let n_columns = (n + N_TAPS - 1).next_multiple_of(LANES);
        let row = span.row.wrapping_add_signed(reading.first.0);
        let first = row * side + span.left.wrapping_add_signed(reading.first.1);
        for i in (0..n_columns).step_by(LANES) {
            let (mut value, mut slope) = ([0.0; LANES], [0.0; LANES]);
            for j in 0..N_TAPS {
                let line = lanes::at(coefs, first + j * side + i);
                add(&mut value, value_y[j], &line);
                add(&mut slope, slope_y[j], &line);
            }
            to.down[i..i + LANES].copy_from_slice(&value);
            to.down_slope[i..i + LANES].copy_from_slice(&slope);
        }
        for i in (0..n).step_by(LANES) {
            let (mut value, mut x, mut y) = ([0.0; LANES], [0.0; LANES], [0.0; LANES]);
            for j in 0..N_TAPS {
                let down = lanes::at(&to.down, i + j);
                add(&mut value, value_x[j], &down);
                add(&mut x, slope_x[j], &down);
                add(&mut y, value_x[j], &lanes::at(&to.down_slope, i + j));
            }
            let range = from + i..from + i + LANES;
            to.value[range.clone()].copy_from_slice(&value);
            to.slope_x[range.clone()].copy_from_slice(&x);
            to.slope_y[range].copy_from_slice(&y);
        }
        from += span.n;
    }
}

#[inline(always)]
fn add(sums: &mut [f32; LANES], weight: f32, numbers: &[f32; LANES]) {
    for k in 0..LANES {
        sums[k] += weight * numbers[k];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pixels_and_their_opposites_are_read_from_a_smooth_picture() {
        let level = |x: f64, y: f64| 20.0 * (0.3 * x + 0.1).sin() * (0.4 * y).cos();
        let slope = |x: f64, y: f64| {
            let along_x = 6.0 * (0.3 * x + 0.1).cos() * (0.4 * y).cos();
            (along_x, -8.0 * (0.3 * x + 0.1).sin() * (0.4 * y).sin())
        };
        let side = 41;
        let grey: Vec<f32> =
            (0..side * side).map(|i| level((i % side) as f64, (i / side) as f64) as f32).collect();
        let cells = &crate::spline::coefficients(&grey, side);
        let spans = [Span { row: 15, left: 14, n: 9 }, Span { row: 22, left: 12, n: 16 }];
        let centre = (20.3, 19.65);
        let whole = ((2.0_f64 * centre.0).floor(), (2.0_f64 * centre.1).floor());
        let taps = (Taps::at(2.0 * centre.0 - whole.0), Taps::at(2.0 * centre.1 - whole.1));
        let (mut here, mut there) = (Readings::default(), Readings::default());
        here.take(&Coefs::new(cells, side), &spans, &Reading::at_pixels(&Taps::at(0.0)));
        let opposite = Reading::opposite(side, whole, (&taps.0, &taps.1));
        there.take(&Coefs::turned(cells, side), &spans, &opposite);
        assert!(here.value.len() == 25 && there.slope_y.len() == 25);
        let places = spans.iter().flat_map(|span| (0..span.n).map(|i| (span.left + i, span.row)));
        for (i, (x, y)) in places.enumerate() {
            let (x, y) = (x as f64, y as f64);
            for (readings, x, y) in [(&here, x, y), (&there, 2.0 * centre.0 - x, 2.0 * centre.1 - y)] {
                let (along_x, along_y) = slope(x, y);
                assert!((f64::from(readings.value[i]) - level(x, y)).abs() < 2e-3, "{x} {y}");
                assert!((f64::from(readings.slope_x[i]) - along_x).abs() < 5e-3, "{x} {y}");
                assert!((f64::from(readings.slope_y[i]) - along_y).abs() < 5e-3, "{x} {y}");
            }
        }
    }
}
