//! A banded symmetric positive matrix: factor and solve in time linear in its size.

use nalgebra::DMatrix;

/// Rows of the lower triangle, each from `width` below the diagonal up to it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Band {
    width: usize,
    rows: Vec<f64>,
}

/// Its Cholesky factor.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct BandFactor(Band);

impl Band {
    pub(super) fn zeros(n: usize, width: usize) -> Self {
        Self { width, rows: vec![0.0; n * (width + 1)] }
    }

    fn n(&self) -> usize {
        self.rows.len() / (self.width + 1)
    }

    fn place(&self, row: usize, column: usize) -> usize {
        row * (self.width + 1) + self.width + column - row
    }

    /// Adds to an entry on or below the diagonal, within the band.
    pub(super) fn add(&mut self, row: usize, column: usize, value: f64) {
        let place = self.place(row, column);
        self.rows[place] += value;
    }

    /// Multiplies the diagonal.
    pub(super) fn damp(&mut self, factor: f64) {
        for row in 0..self.n() {
            let place = self.place(row, row);
            self.rows[place] *= factor;
        }
    }

    /// `None` where the matrix is not positive.
    pub(super) fn factored(mut self) -> Option<BandFactor> {
        for row in 0..self.n() {
            for column in row.saturating_sub(self.width)..=row {
                let first = row.saturating_sub(self.width).max(column.saturating_sub(self.width));
                let mut sum = self.rows[self.place(row, column)];
                for k in first..column {
                    sum -= self.rows[self.place(row, k)] * self.rows[self.place(column, k)];
                }
                let place = self.place(row, column);
                self.rows[place] = if row == column {
                    if sum.is_nan() || sum <= 0.0 {
                        return None;
                    }
                    sum.sqrt()
                } else {
                    sum / self.rows[self.place(column, column)]
                };
            }
        }
        Some(BandFactor(self))
    }
}

impl BandFactor {
    /// The inverse times the columns of `right`.
    pub(super) fn solve(&self, right: &DMatrix<f64>) -> DMatrix<f64> {
        let band = &self.0;
        let (n, mut x) = (band.n(), right.clone());
        for mut column in x.column_iter_mut() {
            for row in 0..n {
                let first = row.saturating_sub(band.width);
                let known: f64 = (first..row).map(|k| band.rows[band.place(row, k)] * column[k]).sum();
                column[row] = (column[row] - known) / band.rows[band.place(row, row)];
            }
            for row in (0..n).rev() {
                let last = (row + band.width + 1).min(n);
                let known: f64 = (row + 1..last).map(|k| band.rows[band.place(k, row)] * column[k]).sum();
                column[row] = (column[row] - known) / band.rows[band.place(row, row)];
            }
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solves_like_the_full_matrix() {
        let (n, width) = (9, 2);
        let mut band = Band::zeros(n, width);
        let mut full = DMatrix::<f64>::zeros(n, n);
        for row in 0..n {
            for column in row.saturating_sub(width)..=row {
                let value = if row == column { 4.0 + row as f64 } else { 0.3 - 0.1 * column as f64 };
                band.add(row, column, value);
                (full[(row, column)], full[(column, row)]) = (value, value);
            }
        }
        let right = DMatrix::from_fn(n, 2, |row, column| (row * 3 + column) as f64 - 5.0);
        let found = band.clone().factored().unwrap().solve(&right);
        assert!((full * found - right).norm() < 1e-10);
        band.damp(-1.0);
        assert!(band.factored().is_none());
    }
}
