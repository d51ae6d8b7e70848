//! Cholesky factor of a symmetric matrix whose entries lie in a band about the diagonal.

/// Lower half of a banded matrix, row by row: entry (row, column) with row − column up to the width.
#[derive(Debug, Clone)]
pub(crate) struct Banded {
    n: usize,
    width: usize,
    entries: Vec<f64>,
}

impl Banded {
    /// The matrix whose entries `entry` gives for column ≤ row within the band.
    pub(crate) fn new(n: usize, width: usize, entry: impl Fn(usize, usize) -> f64) -> Self {
        let mut entries = vec![0.0; n * (width + 1)];
        for row in 0..n {
            for column in row.saturating_sub(width)..=row {
                entries[row * (width + 1) + row - column] = entry(row, column);
            }
        }
        Self { n, width, entries }
    }

    fn at(&self, row: usize, column: usize) -> f64 {
        self.entries[row * (self.width + 1) + row - column]
    }

    /// The Cholesky factor; `None` unless positive definite. Cost n · width².
    pub(crate) fn cholesky(mut self) -> Option<Self> {
        for row in 0..self.n {
            let first = row.saturating_sub(self.width);
            for column in first..=row {
                let shared = first.max(column.saturating_sub(self.width))..column;
                let sum: f64 = shared.map(|k| self.at(row, k) * self.at(column, k)).sum();
                let rest = self.at(row, column) - sum;
                let entry = if column == row {
                    (rest.is_finite() && rest > 0.0).then(|| rest.sqrt())?
                } else {
                    rest / self.at(column, column)
                };
                self.entries[row * (self.width + 1) + row - column] = entry;
            }
        }
        Some(self)
    }

    /// Solves factor · y = `right`: what has this covariance gets independent entries of variance 1.
    pub(crate) fn whiten(&self, right: &[f64]) -> Vec<f64> {
        let mut white = Vec::with_capacity(self.n);
        for (row, value) in right.iter().enumerate().take(self.n) {
            let first = row.saturating_sub(self.width);
            let sum: f64 = (first..row).map(|column| self.at(row, column) * white[column]).sum();
            white.push((value - sum) / self.at(row, row));
        }
        white
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factor_of_a_small_matrix() {
        // [[4, 2, 0], [2, 5, 2], [0, 2, 5]] = L Lᵀ with L = [[2], [1, 2], [0, 1, 2]].
        let dense = [[4.0, 2.0, 0.0], [2.0, 5.0, 2.0], [0.0, 2.0, 5.0]];
        let factor = Banded::new(3, 1, |row, column| dense[row][column]).cholesky().unwrap();
        assert_eq!(factor.whiten(&[2.0, 5.0, 8.0]), [1.0, 2.0, 3.0]);
        assert!(Banded::new(2, 1, |_, _| 1.0).cholesky().is_none());
    }
}
