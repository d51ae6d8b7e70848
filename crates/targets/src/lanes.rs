//! Sums of products over columns of numbers, in eight lanes that the compiler turns into wide registers. Lanes and blocks
//! are fixed, so every machine adds in the same order.

use multiversion::multiversion;
use nalgebra::{SMatrix, SVector};

/// Numbers that are worked on side by side.
pub(crate) const LANES: usize = 8;

/// Rows that are added in single precision before the sum goes to double precision.
const BLOCK: usize = 64 * LANES;

/// Sums over rows of `N` columns and one column of values.
#[derive(Debug, Clone)]
pub(crate) struct Sums<const N: usize> {
    products: [[f64; N]; N],
    with_values: [f64; N],
    /// Sum of the squared values.
    pub(crate) squares: f64,
}

impl<const N: usize> Sums<N> {
    /// Matrix and right-hand side of the normal equations.
    pub(crate) fn normal(&self) -> (SMatrix<f64, N, N>, SVector<f64, N>) {
        let matrix = SMatrix::from_fn(|i, j| self.products[i.max(j)][i.min(j)]);
        (matrix, SVector::from(self.with_values))
    }
}

/// Sums over four columns as long as `values`.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
pub(crate) fn sums_of_4(columns: [&[f32]; 4], values: &[f32]) -> Sums<4> {
    sums(columns, values)
}

/// Sums over eight columns as long as `values`.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
pub(crate) fn sums_of_8(columns: [&[f32]; 8], values: &[f32]) -> Sums<8> {
    sums(columns, values)
}

#[inline(always)]
fn sums<const N: usize>(columns: [&[f32]; N], values: &[f32]) -> Sums<N> {
    let mut all = Sums { products: [[0.0; N]; N], with_values: [0.0; N], squares: 0.0 };
    let mut from = 0;
    while from < values.len() {
        let to = (from + BLOCK).min(values.len());
        add_block(&mut all, &columns, values, (from, to));
        from = to;
    }
    all
}

#[inline(always)]
fn add_block<const N: usize>(
    all: &mut Sums<N>,
    columns: &[&[f32]; N],
    values: &[f32],
    (first, last): (usize, usize),
) {
    let mut products = [[[0.0_f32; LANES]; N]; N];
    let mut with_values = [[0.0_f32; LANES]; N];
    let mut squares = [0.0_f32; LANES];
    let mut row = [[0.0_f32; LANES]; N];
    for from in (first..last).step_by(LANES) {
        let value = part(values, from, last);
        for j in 0..N {
            row[j] = part(columns[j], from, last);
        }
        for j in 0..N {
            for i in 0..=j {
                add_product(&mut products[j][i], &row[j], &row[i]);
            }
            add_product(&mut with_values[j], &row[j], &value);
        }
        add_product(&mut squares, &value, &value);
    }
    for (all, products) in all.products.as_flattened_mut().iter_mut().zip(products.as_flattened()) {
        *all += total(products);
    }
    for (all, products) in all.with_values.iter_mut().zip(&with_values) {
        *all += total(products);
    }
    all.squares += total(&squares);
}

/// Eight numbers from `from` on; zeros from `last` on.
#[inline(always)]
pub(crate) fn part(numbers: &[f32], from: usize, last: usize) -> [f32; LANES] {
    if from + LANES <= last {
        return at(numbers, from);
    }
    let mut lanes = [0.0; LANES];
    lanes[..last - from].copy_from_slice(&numbers[from..last]);
    lanes
}

/// Eight numbers from `from` on, all of which must be there.
#[inline(always)]
pub(crate) fn at(numbers: &[f32], from: usize) -> [f32; LANES] {
    let mut lanes = [0.0; LANES];
    lanes.copy_from_slice(&numbers[from..from + LANES]);
    lanes
}

/// Mean and greatest of some numbers; 0 and the least number there is for none.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
pub(crate) fn mean_and_greatest(numbers: &[f32]) -> (f64, f32) {
    let (mut sum, mut greatest) = (0.0, f32::MIN);
    for block in numbers.chunks(BLOCK) {
        let (whole, rest) = block.as_chunks::<LANES>();
        let (mut sums, mut most) = ([0.0_f32; LANES], [f32::MIN; LANES]);
        for lanes in whole {
            for k in 0..LANES {
                sums[k] += lanes[k];
                most[k] = if lanes[k] > most[k] { lanes[k] } else { most[k] };
            }
        }
        for (k, number) in rest.iter().enumerate() {
            sums[k] += number;
            most[k] = most[k].max(*number);
        }
        sum += total(&sums);
        for lane in most {
            greatest = greatest.max(lane);
        }
    }
    (sum / numbers.len().max(1) as f64, greatest)
}

#[inline(always)]
fn add_product(sums: &mut [f32; LANES], a: &[f32; LANES], b: &[f32; LANES]) {
    for k in 0..LANES {
        sums[k] += a[k] * b[k];
    }
}

#[inline(always)]
pub(crate) fn total(lanes: &[f32; LANES]) -> f64 {
    let mut sum = 0.0;
    for lane in lanes {
        sum += f64::from(*lane);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mean_and_greatest_are_those_of_the_plain_loop() {
        let numbers: Vec<f32> = (0..BLOCK + 13).map(|i| ((i * 7) % 31) as f32).collect();
        for n in [1, 8, 11, BLOCK + 13] {
            let (mean, greatest) = mean_and_greatest(&numbers[..n]);
            let plain = numbers[..n].iter().map(|&number| f64::from(number)).sum::<f64>() / n as f64;
            assert!((mean - plain).abs() < 1e-5, "{n}");
            assert_eq!(Some(greatest), numbers[..n].iter().copied().reduce(f32::max));
        }
        assert!(mean_and_greatest(&[]).0 == 0.0);
    }

    #[test]
    fn sums_are_those_of_the_plain_loop() {
        for n in [0, 1, 7, 8, 9, BLOCK, 3 * BLOCK + 5] {
            let column =
                |k: usize| -> Vec<f32> { (0..n).map(|i| ((i * (k + 3)) % 17) as f32 - 7.5).collect() };
            let columns = [column(0), column(1), column(2), column(3)];
            let values = column(9);
            let sums = sums_of_4([&columns[0], &columns[1], &columns[2], &columns[3]], &values);
            let (matrix, right) = sums.normal();
            let plain = |a: &[f32], b: &[f32]| {
                a.iter().zip(b).map(|(a, b)| f64::from(*a) * f64::from(*b)).sum::<f64>()
            };
            for j in 0..4 {
                for i in 0..4 {
                    let expected = plain(&columns[j], &columns[i]);
                    assert!((matrix[(j, i)] - expected).abs() <= 1e-6 * expected.abs().max(1.0), "{n}");
                }
                let expected = plain(&columns[j], &values);
                assert!((right[j] - expected).abs() <= 1e-6 * expected.abs().max(1.0), "{n}");
            }
            assert!((sums.squares - plain(&values, &values)).abs() <= 1e-6 * sums.squares.max(1.0));
        }
    }
}
