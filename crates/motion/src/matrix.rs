//! Small fixed matrices as arrays of rows: product, triangular solution, Cholesky factor, Householder reflection.

/// Four by four, rows first.
pub(crate) type Matrix4 = [[f64; 4]; 4];

/// A with all entries zero but the diagonal.
pub(crate) fn diagonal(entries: [f64; 4]) -> Matrix4 {
    std::array::from_fn(|i| std::array::from_fn(|j| if i == j { entries[i] } else { 0.0 }))
}

/// A B.
pub(crate) fn product(a: &Matrix4, b: &Matrix4) -> Matrix4 {
    std::array::from_fn(|i| std::array::from_fn(|j| (0..4).map(|k| a[i][k] * b[k][j]).sum()))
}

/// A x.
pub(crate) fn applied(a: &Matrix4, x: &[f64; 4]) -> [f64; 4] {
    std::array::from_fn(|i| (0..4).map(|k| a[i][k] * x[k]).sum())
}

/// The matrix with rows and columns exchanged.
pub(crate) fn transposed(a: &Matrix4) -> Matrix4 {
    std::array::from_fn(|i| std::array::from_fn(|j| a[j][i]))
}

/// A + B.
pub(crate) fn sum(a: &Matrix4, b: &Matrix4) -> Matrix4 {
    std::array::from_fn(|i| std::array::from_fn(|j| a[i][j] + b[i][j]))
}

/// A - B.
pub(crate) fn difference(a: &Matrix4, b: &Matrix4) -> Matrix4 {
    std::array::from_fn(|i| std::array::from_fn(|j| a[i][j] - b[i][j]))
}

/// A B Aᵀ.
pub(crate) fn sandwich(a: &Matrix4, b: &Matrix4) -> Matrix4 {
    product(&product(a, b), &transposed(a))
}

/// The lower factor L of a positive definite A = L Lᵀ; `None` where A is not positive definite.
pub(crate) fn cholesky<const N: usize>(a: &[[f64; N]; N]) -> Option<[[f64; N]; N]> {
    let mut l = [[0.0; N]; N];
    for i in 0..N {
        for j in 0..=i {
            let rest = a[i][j] - (0..j).map(|k| l[i][k] * l[j][k]).sum::<f64>();
            if i == j {
                if !(rest > 0.0 && rest.is_finite()) {
                    return None;
                }
                l[i][i] = rest.sqrt();
            } else {
                l[i][j] = rest / l[j][j];
            }
        }
    }
    Some(l)
}

/// L⁻¹ of a lower triangular L with a diagonal free of zeros.
pub(crate) fn lower_inverse<const N: usize>(l: &[[f64; N]; N]) -> [[f64; N]; N] {
    let mut inverse: [[f64; N]; N] = [[0.0; N]; N];
    for i in 0..N {
        let row = std::array::from_fn(|j| {
            let known: f64 = (j..i).map(|k| l[i][k] * inverse[k][j]).sum();
            if j > i { 0.0 } else { (f64::from(u8::from(i == j)) - known) / l[i][i] }
        });
        inverse[i] = row;
    }
    inverse
}

/// The inverse of a positive definite matrix; `None` where it is not positive definite.
pub(crate) fn positive_inverse<const N: usize>(a: &[[f64; N]; N]) -> Option<[[f64; N]; N]> {
    let factor = lower_inverse(&cholesky(a)?);
    let entry = |i: usize, j: usize| (i.max(j)..N).map(|k| factor[k][i] * factor[k][j]).sum();
    Some(std::array::from_fn(|i| std::array::from_fn(|j| entry(i, j))))
}

/// U⁻¹ B for an upper triangular U; `None` where its diagonal has a zero.
pub(crate) fn upper_solved(u: &Matrix4, b: &Matrix4) -> Option<Matrix4> {
    let mut x = [[0.0; 4]; 4];
    for i in (0..4).rev() {
        if u[i][i] == 0.0 {
            return None;
        }
        for j in 0..4 {
            let known: f64 = (i + 1..4).map(|k| u[i][k] * x[k][j]).sum();
            x[i][j] = (b[i][j] - known) / u[i][i];
        }
    }
    Some(x)
}

/// Makes the first `n_columns` columns of the rows upper triangular by Householder reflections.
pub(crate) fn triangularise<const C: usize>(rows: &mut [[f64; C]], n_columns: usize) {
    for column in 0..n_columns.min(rows.len()) {
        let norm = rows[column..].iter().map(|row| row[column] * row[column]).sum::<f64>().sqrt();
        if norm == 0.0 {
            continue;
        }
        let pivot = rows[column][column];
        let diagonal = if pivot > 0.0 { -norm } else { norm };
        // The reflection is I - v vᵀ / (norm² - pivot * diagonal), v the column with its head changed. Whole rows are
        // worked on, as columns to the left hold zeros: short loops over neighbours are the quick ones.
        rows[column][column] = pivot - diagonal;
        let divisor = norm * norm - pivot * diagonal;
        let mut along = [0.0; C];
        for row in &rows[column..] {
            for (sum, entry) in along.iter_mut().zip(row) {
                *sum += row[column] * entry;
            }
        }
        for row in &mut rows[column..] {
            let factor = row[column] / divisor;
            for (entry, sum) in row.iter_mut().zip(&along) {
                *entry -= factor * sum;
            }
        }
        rows[column][column] = diagonal;
        for row in &mut rows[column + 1..] {
            row[..=column].fill(0.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const A: Matrix4 =
        [[9.0, 1.0, 0.5, 0.1], [1.0, 7.0, 0.3, 0.2], [0.5, 0.3, 5.0, 0.4], [0.1, 0.2, 0.4, 3.0]];

    fn is_unit(m: &Matrix4) {
        for (i, row) in m.iter().enumerate() {
            for (j, entry) in row.iter().enumerate() {
                assert!((entry - f64::from(u8::from(i == j))).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn inverses() {
        is_unit(&product(&A, &positive_inverse(&A).unwrap()));
        let upper = transposed(&cholesky(&A).unwrap());
        is_unit(&product(&upper, &upper_solved(&upper, &diagonal([1.0; 4])).unwrap()));
        assert!(cholesky(&difference(&A, &diagonal([20.0; 4]))).is_none());
    }

    #[test]
    fn triangles_keep_the_normal_matrix() {
        let mut rows = [[1.0, 2.0, 3.0], [4.0, 5.0, 6.5], [7.0, 8.0, -9.0], [0.0, 1.0, 2.0]];
        let normal = |rows: &[[f64; 3]]| -> f64 { rows.iter().map(|row| row[0] * row[2]).sum() };
        let before = normal(&rows);
        triangularise(&mut rows, 3);
        assert!((normal(&rows) - before).abs() < 1e-12);
        assert!(rows[1][0] == 0.0 && rows[2][1] == 0.0 && rows[3][2] == 0.0);
    }
}
