//! Savitzky-Golay: a polynomial fitted to the marks about each frame (Savitzky and Golay 1964, Anal. Chem. 36:1627).

use super::linear::{Even, Filtered, Row};
use crate::MotionFailure;
use crate::matrix::positive_inverse;
use crate::samples::Sample;

/// Greatest degree of the polynomial, and one more.
const N: usize = 6;

/// Settings of [`savitzky_golay`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SavitzkyGolayOptions {
    /// Marks to either side, 1 to 200.
    pub half_width: usize,
    /// Degree of the polynomial, 1 to 5 and less than the number of marks.
    pub degree: usize,
}

impl SavitzkyGolayOptions {
    /// Checks every setting's range.
    ///
    /// # Errors
    /// [`MotionFailure::Setting`] names the first setting out of range.
    #[expect(clippy::cast_precision_loss, reason = "small counts, for the message")]
    pub fn check(&self) -> Result<(), MotionFailure> {
        if !(1..=200).contains(&self.half_width) {
            let value = self.half_width as f64;
            return Err(MotionFailure::Setting {
                setting: "half_width",
                value,
                rule: "it must be from 1 to 200",
            });
        }
        if !(1..N).contains(&self.degree) || self.degree > 2 * self.half_width {
            let (value, rule) =
                (self.degree as f64, "it must be from 1 to 5 and less than the marks in a window");
            return Err(MotionFailure::Setting { setting: "degree", value, rule });
        }
        Ok(())
    }
}

/// Fits a polynomial about each frame; at the ends that of the outermost window. A derivative above the degree is missing.
///
/// # Errors
/// [`MotionFailure`] for settings out of range, gaps, uneven times and too few marks.
pub fn savitzky_golay(
    times_s: &[f64],
    samples: &[Sample],
    options: &SavitzkyGolayOptions,
) -> Result<Filtered, MotionFailure> {
    options.check()?;
    let (m, what) = (options.half_width, "Savitzky-Golay filter");
    let even = Even::of(what, times_s, samples, 2 * m + 1)?;
    let of_place = (0..=2 * m)
        .map(|place| [0, 1, 2].map(|order| weights(*options, place, order)))
        .map(|rows| {
            if rows[0].is_some() { Ok(rows) } else { Err(MotionFailure::Degenerate { what, why: "no fit" }) }
        })
        .collect::<Result<Vec<[Option<Vec<f64>>; 3]>, _>>()?;
    let step_s = even.step_s;
    let respond = |values: &[f64]| -> Vec<Row> {
        let n = values.len();
        (0..n)
            .map(|i| {
                let start = i.saturating_sub(m).min(n - 1 - 2 * m);
                let window = &values[start..=start + 2 * m];
                let row = |order: i32, weights: &Option<Vec<f64>>| {
                    let weights = weights.as_ref()?;
                    let sum: f64 = weights.iter().zip(window).map(|(w, x)| w * x).sum();
                    Some(sum / step_s.powi(order))
                };
                let rows = &of_place[i - start];
                [row(0, &rows[0]), row(1, &rows[1]), row(2, &rows[2])]
            })
            .collect()
    };
    Ok(Filtered {
        times_s: times_s.to_vec(),
        states: even.filtered(2 * m, respond),
        method: "Savitzky-Golay",
        setting: format!("degree {} over {} marks", options.degree, 2 * m + 1),
        band_hz: None,
    })
}

/// Weights of the marks of a window for the derivative of an order at its middle, per step; `None` for settings out of
/// range or a derivative above the degree.
#[must_use]
pub fn savitzky_golay_weights(options: &SavitzkyGolayOptions, order: usize) -> Option<Vec<f64>> {
    options.check().ok()?;
    weights(*options, options.half_width, order)
}

/// The same at any place of the window. Places count in half-widths from there, which keeps the powers of one order.
#[expect(clippy::cast_precision_loss, reason = "places in a window")]
fn weights(options: SavitzkyGolayOptions, place: usize, order: usize) -> Option<Vec<f64>> {
    if order > options.degree {
        return None;
    }
    let m = options.half_width;
    let unit = m as f64;
    let powers = |mark: usize| -> [f64; N] {
        let x = (mark as f64 - place as f64) / unit;
        let mut power = 1.0;
        std::array::from_fn(|k| {
            let own = if k <= options.degree { power } else { 0.0 };
            power *= x;
            own
        })
    };
    let mut normal = [[0.0; N]; N];
    for mark in 0..=2 * m {
        let row = powers(mark);
        for i in 0..N {
            for j in 0..N {
                normal[i][j] += row[i] * row[j];
            }
        }
    }
    for (k, row) in normal.iter_mut().enumerate().skip(options.degree + 1) {
        row[k] = 1.0;
    }
    let inverse = positive_inverse(&normal)?;
    let factorial = [1.0, 1.0, 2.0][order] / unit.powi([0, 1, 2][order]);
    let weight = |mark: usize| {
        let row = powers(mark);
        factorial * (0..N).map(|k| inverse[order][k] * row[k]).sum::<f64>()
    };
    Some((0..=2 * m).map(weight).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn weights_of(points: usize, degree: usize, order: usize) -> Vec<f64> {
        savitzky_golay_weights(&SavitzkyGolayOptions { half_width: points / 2, degree }, order).unwrap()
    }

    fn same(found: &[f64], integers: &[f64], divisor: f64) {
        for (found, integer) in found.iter().zip(integers) {
            assert!((found - integer / divisor).abs() < 1e-12, "{found} {integer}/{divisor}");
        }
    }

    #[test]
    fn integer_tables() {
        // Savitzky and Golay 1964 with the corrections of Steinier et al. 1972 (Anal. Chem. 44:1906); smoothing as printed at
        // chemgapedia.de, first derivative at statistics4u.info, the rest computed from the stated formulas.
        same(&weights_of(5, 2, 0), &[-3.0, 12.0, 17.0, 12.0, -3.0], 35.0);
        same(&weights_of(7, 3, 0), &[-2.0, 3.0, 6.0, 7.0, 6.0, 3.0, -2.0], 21.0);
        same(&weights_of(9, 2, 0), &[-21.0, 14.0, 39.0, 54.0, 59.0, 54.0, 39.0, 14.0, -21.0], 231.0);
        same(&weights_of(5, 2, 1), &[-2.0, -1.0, 0.0, 1.0, 2.0], 10.0);
        same(&weights_of(5, 2, 2), &[2.0, -1.0, -2.0, -1.0, 2.0], 7.0);
        same(&weights_of(7, 3, 2), &[5.0, 0.0, -3.0, -4.0, -3.0, 0.0, 5.0], 42.0);
        same(&weights_of(5, 3, 1), &[1.0, -8.0, 0.0, 8.0, -1.0], 12.0);
        same(&weights_of(7, 4, 1), &[22.0, -67.0, -58.0, 0.0, 58.0, 67.0, -22.0], 252.0);
    }

    #[test]
    fn noise_factors() {
        // Computed from the stated formulas: smoothing, slope by a line, slope by a cubic, second derivative.
        for (points, factors) in [
            (5, [0.696_932, 0.316_228, 0.950_146, 0.534_522]),
            (7, [0.577_350, 0.188_982, 0.512_412, 0.218_218]),
            (9, [0.505_382, 0.129_099, 0.338_139, 0.113_961]),
            (11, [0.455_477, 0.095_346, 0.245_722, 0.068_279]),
            (13, [0.418_121, 0.074_125, 0.189_331, 0.044_699]),
            (15, [0.388_756, 0.059_761, 0.151_809, 0.031_139]),
            (21, [0.327_950, 0.036_037, 0.090_821, 0.013_353]),
        ] {
            let found = [(2, 0), (1, 1), (3, 1), (2, 2)].map(|(degree, order)| {
                weights_of(points, degree, order).iter().map(|w| w * w).sum::<f64>().sqrt()
            });
            for (found, factor) in found.iter().zip(factors) {
                assert!((found - factor).abs() < 6e-7, "{points}: {found} {factor}");
            }
        }
    }
}
