//! Correlated terms as uncorrelated steps: principal axes of their correlation.

use nalgebra::{SMatrix, SymmetricEigen};

type Nine = SMatrix<f64, 9, 9>;

/// Terms that have nothing to do with each other.
pub(super) const UNCORRELATED: [[f64; 9]; 9] = {
    let mut rows = [[0.0; 9]; 9];
    let mut i = 0;
    while i < 9 {
        rows[i][i] = 1.0;
        i += 1;
    }
    rows
};

/// How far below 0 an eigenvalue may lie by rounding.
const ROUNDING: f64 = 1e-6;

/// Standard uncertainties and correlation of a covariance; terms without variance are uncorrelated.
pub(super) fn split(cov: &[[f64; 9]; 9]) -> ([f64; 9], [[f64; 9]; 9]) {
    let u: [f64; 9] = std::array::from_fn(|i| cov[i][i].max(0.0).sqrt());
    let correlation = |i: usize, j: usize| {
        let product = u[i] * u[j];
        if i == j || product <= 0.0 { UNCORRELATED[i][j] } else { (cov[i][j] / product).clamp(-1.0, 1.0) }
    };
    (u, std::array::from_fn(|i| std::array::from_fn(|j| correlation(i, j))))
}

/// A correlation as read, or what is wrong with it.
pub(super) fn checked(rows: &[Vec<f64>]) -> Result<[[f64; 9]; 9], &'static str> {
    if rows.len() != 9 || rows.iter().any(|row| row.len() != 9) {
        return Err("correlation must have 9 rows of 9 numbers");
    }
    let correlation: [[f64; 9]; 9] = std::array::from_fn(|i| std::array::from_fn(|j| rows[i][j]));
    let pairs = (0..9).flat_map(|i| (0..9).map(move |j| (i, j)));
    for (i, j) in pairs {
        let value = correlation[i][j];
        if !(value.is_finite() && value.abs() <= 1.0 + 1e-9) {
            return Err("correlation must hold numbers from -1 to 1");
        }
        if (value - correlation[j][i]).abs() > 1e-9 || (i == j && (value - 1.0).abs() > 1e-9) {
            return Err("correlation must be symmetric, with 1 on its diagonal");
        }
    }
    let eigen = SymmetricEigen::new(matrix(&correlation));
    if eigen.eigenvalues.min() < -ROUNDING {
        return Err("correlation is not that of any nine quantities: it has a negative eigenvalue");
    }
    Ok(correlation)
}

/// Steps of all terms, one for each principal axis, whose outer products add up to the covariance.
pub(super) fn steps(u: &[f64; 9], correlation: &[[f64; 9]; 9]) -> [[f64; 9]; 9] {
    if *correlation == UNCORRELATED {
        return std::array::from_fn(|axis| std::array::from_fn(|term| u[term] * UNCORRELATED[axis][term]));
    }
    let eigen = SymmetricEigen::new(matrix(correlation));
    std::array::from_fn(|axis| {
        let along = eigen.eigenvectors.column(axis);
        // The sense of an axis is open: its largest part counts as positive.
        let largest = along
            .iter()
            .fold(0.0_f64, |largest, part| if part.abs() > largest.abs() { *part } else { largest });
        let length = eigen.eigenvalues[axis].max(0.0).sqrt() * largest.signum();
        std::array::from_fn(|term| u[term] * length * along[term])
    })
}

fn matrix(rows: &[[f64; 9]; 9]) -> Nine {
    Nine::from_fn(|i, j| rows[i][j])
}
