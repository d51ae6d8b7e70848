//! Weighted linear least squares by QR, with covariance and residuals.

use nalgebra::{DMatrix, DVector};

/// A column whose part independent of the others is smaller than this share of it is not determined.
const LEAST_INDEPENDENT: f64 = 1e-11;

/// A solved fit.
#[derive(Debug, Clone)]
pub(crate) struct Solved {
    pub(crate) values: DVector<f64>,
    /// For the stated uncertainties, not widened.
    pub(crate) covariance: DMatrix<f64>,
    /// Data less fit, in the data's unit.
    pub(crate) residuals: DVector<f64>,
    /// Sum of squares of residuals over their stated uncertainties.
    pub(crate) chi2: f64,
    pub(crate) freedom: usize,
}

impl Solved {
    /// χ² divided by its degrees of freedom; 1 when none are left.
    #[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
    pub(crate) fn reduced(&self) -> f64 {
        if self.freedom == 0 { 1.0 } else { self.chi2 / self.freedom as f64 }
    }
}

/// Least squares of `data`, each with its standard uncertainty; `None` when the columns are not independent, the
/// rows are fewer than the columns, or a number is not finite.
pub(crate) fn solve(design: &DMatrix<f64>, data: &DVector<f64>, u: &[f64]) -> Option<Solved> {
    let (n_rows, n_terms) = design.shape();
    if n_terms == 0 || n_rows < n_terms || u.len() != n_rows || data.len() != n_rows {
        return None;
    }
    let weighted = DMatrix::from_fn(n_rows, n_terms, |row, term| design[(row, term)] / u[row]);
    let right = DVector::from_fn(n_rows, |row, _| data[row] / u[row]);
    let scale: Vec<f64> = weighted.column_iter().map(|column| column.norm()).collect();
    if scale.iter().any(|&size| !(size.is_finite() && size > 0.0)) {
        return None;
    }
    let qr = DMatrix::from_fn(n_rows, n_terms, |row, term| weighted[(row, term)] / scale[term]).qr();
    let upper = qr.r();
    if upper.diagonal().iter().any(|&part| !(part.is_finite() && part.abs() > LEAST_INDEPENDENT)) {
        return None;
    }
    let inverse = upper.solve_upper_triangular(&DMatrix::identity(n_terms, n_terms))?;
    let scaled = &inverse * (qr.q().transpose() * right);
    let values = DVector::from_fn(n_terms, |term, _| scaled[term] / scale[term]);
    let product = &inverse * inverse.transpose();
    let covariance = DMatrix::from_fn(n_terms, n_terms, |i, j| product[(i, j)] / (scale[i] * scale[j]));
    let residuals = data - design * &values;
    let chi2: f64 = residuals.iter().zip(u).map(|(residual, u)| (residual / u).powi(2)).sum();
    let finite = chi2.is_finite() && values.iter().all(|value| value.is_finite());
    finite.then_some(Solved { values, covariance, residuals, chi2, freedom: n_rows - n_terms })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JCGM 100:2008, H.3, table H.6: correction b of a thermometer against temperature t.
    const T: [f64; 11] =
        [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511];
    const B: [f64; 11] =
        [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160];

    #[test]
    fn straight_line_of_the_gum() {
        let design = DMatrix::from_fn(11, 2, |row, term| if term == 0 { 1.0 } else { T[row] - 20.0 });
        let line = solve(&design, &DVector::from_row_slice(&B), &[1.0; 11]).unwrap();
        let variance = line.reduced();
        let u = |term: usize| (variance * line.covariance[(term, term)]).sqrt();
        let correlation = variance * line.covariance[(0, 1)] / (u(0) * u(1));
        let at = DVector::from_row_slice(&[1.0, 10.0]);
        let u_at_30 = (variance * at.dot(&(&line.covariance * &at))).sqrt();
        // Printed in H.3.3 and H.3.4, then more digits computed from the stated formulas.
        for (found, printed, half_digit, more_digits) in [
            (line.values[0], -0.1712, 5e-5, -0.171_203_790),
            (u(0), 0.0029, 5e-5, 0.002_877_598),
            (line.values[1], 0.00218, 5e-6, 0.002_182_698),
            (u(1), 0.00067, 5e-6, 0.000_667_939),
            (correlation, -0.930, 5e-4, -0.930_430),
            (variance.sqrt(), 0.0035, 5e-5, 0.003_497_564),
            (line.values.dot(&at), -0.1494, 5e-5, -0.149_376_813),
            (u_at_30, 0.0041, 5e-5, 0.004_138_596),
        ] {
            assert!((found - printed).abs() <= half_digit, "{found} against {printed}");
            assert!((found - more_digits).abs() < 1e-6, "{found} against {more_digits}");
        }
    }

    #[test]
    fn undetermined_fits_are_none() {
        let data = DVector::from_row_slice(&[1.0, 2.0, 3.0]);
        assert!(solve(&DMatrix::from_element(3, 2, 1.0), &data, &[1.0; 3]).is_none());
        assert!(solve(&DMatrix::from_element(3, 1, f64::NAN), &data, &[1.0; 3]).is_none());
        assert!(solve(&DMatrix::from_element(3, 4, 1.0), &data, &[1.0; 3]).is_none());
    }
}
