//! Weighted linear least squares for a few parameters: values, covariance, residual sum of squares.

use crate::matrix::{lower_inverse, triangularise};

/// A linear fit. The covariance takes the stated variances as true.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Fitted<const P: usize> {
    pub(crate) value: [f64; P],
    pub(crate) cov: [[f64; P]; P],
    /// Residual sum of squares over the variances.
    pub(crate) chi2: f64,
    pub(crate) n_rows: usize,
}

impl<const P: usize> Fitted<P> {
    /// Degrees of freedom.
    pub(crate) fn dof(&self) -> usize {
        self.n_rows.saturating_sub(P)
    }
}

/// Fits `P` parameters to rows of slopes, value and variance; `C` must be `P` + 1. `None` where the rows do not
/// determine the parameters. By orthogonal reflections: the normal matrix is never formed.
pub(crate) fn fitted<const P: usize, const C: usize>(
    rows: impl Iterator<Item = ([f64; P], f64, f64)>,
) -> Option<Fitted<P>> {
    debug_assert!(C == P + 1, "one column for the value");
    let mut weighted: Vec<[f64; C]> = Vec::new();
    for (slopes, value, variance) in rows {
        let weight = variance.sqrt().recip();
        let entry = |j: usize| if j < P { slopes[j] * weight } else { value * weight };
        weighted.push(std::array::from_fn(entry));
    }
    let n_rows = weighted.len();
    if n_rows < P {
        return None;
    }
    let norm = |j: usize| weighted.iter().map(|row| row[j] * row[j]).sum::<f64>().sqrt();
    let norms: [f64; P] = std::array::from_fn(norm);
    triangularise(&mut weighted, P);
    if (0..P)
        .any(|j| weighted[j][j].abs().partial_cmp(&(1e-10 * norms[j])) != Some(std::cmp::Ordering::Greater))
    {
        return None;
    }
    let lower: [[f64; P]; P] = std::array::from_fn(|i| std::array::from_fn(|j| weighted[j][i]));
    let inverse = lower_inverse(&lower);
    Some(Fitted {
        value: std::array::from_fn(|i| (i..P).map(|k| inverse[k][i] * weighted[k][P]).sum()),
        cov: std::array::from_fn(|i| {
            std::array::from_fn(|j| (i.max(j)..P).map(|k| inverse[k][i] * inverse[k][j]).sum())
        }),
        chi2: weighted[P..].iter().map(|row| row[P] * row[P]).sum(),
        n_rows,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn collinear_slopes_are_refused() {
        let rows = (0..9).map(|i| ([1.0, 2.0], f64::from(i), 1.0));
        assert!(fitted::<2, 3>(rows).is_none());
        assert!(fitted::<2, 3>([([1.0, 0.0], 0.0, 1.0)].into_iter()).is_none());
    }
}
