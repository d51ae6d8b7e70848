//! The samples of a disc, row by row, and their normalised correlation with a field of grey levels.

use crate::lanes::{self, LANES, mean_and_greatest, total};
use multiversion::multiversion;

/// Zero-mean, unit-length samples of a disc.
#[derive(Debug, Clone, Default)]
pub(super) struct Pattern {
    rows: Vec<Row>,
    /// Samples of all rows, each row filled up with zeros to whole lanes.
    samples: Vec<f32>,
    /// 1 where there is a sample, 0 where a row was filled up.
    mask: Vec<f32>,
    n_pixels: f32,
}

/// Where a row lies against the disc's middle, and where its samples begin.
#[derive(Debug, Clone, Copy)]
struct Row {
    dy: i64,
    from_dx: i64,
    n: usize,
    at: usize,
}

/// Grey levels in rows of `width`, with room at the end so that whole lanes can be read there.
#[derive(Debug, Clone)]
pub(super) struct Field {
    grey: Vec<f32>,
    pub(super) width: usize,
}

impl Field {
    /// The levels less their mean.
    #[expect(clippy::cast_possible_truncation, reason = "grey levels in single precision")]
    pub(super) fn new(levels: &[f32], width: usize) -> Self {
        let (mean, _) = mean_and_greatest(levels);
        let mut grey = Vec::with_capacity(levels.len() + LANES);
        grey.extend(levels.iter().map(|level| level - mean as f32));
        grey.resize(levels.len() + LANES, 0.0);
        Self { grey, width }
    }
}

impl Pattern {
    /// From rows of (row, first column, samples); `None` when they are flat.
    #[expect(clippy::cast_possible_truncation, reason = "grey levels in single precision")]
    pub(super) fn new(rows: impl Iterator<Item = (i64, i64, Vec<f32>)>) -> Option<Self> {
        let mut pattern = Self::default();
        for (dy, from_dx, samples) in rows {
            let (n, at) = (samples.len(), pattern.samples.len());
            pattern.rows.push(Row { dy, from_dx, n, at });
            pattern.samples.extend(samples);
            pattern.mask.resize(at + n, 1.0);
            let filled = (at + n).next_multiple_of(LANES);
            pattern.samples.resize(filled, 0.0);
            pattern.mask.resize(filled, 0.0);
        }
        let levels = || pattern.samples.iter().zip(&pattern.mask).filter(|(_, mask)| **mask > 0.0);
        let n = levels().count() as f64;
        let mean = levels().map(|(level, _)| f64::from(*level)).sum::<f64>() / n;
        let length = levels().map(|(level, _)| (f64::from(*level) - mean).powi(2)).sum::<f64>().sqrt();
        if n < 1.0 || length < 1e-6 {
            return None;
        }
        for (level, mask) in pattern.samples.iter_mut().zip(&pattern.mask) {
            *level = *mask * ((f64::from(*level) - mean) / length) as f32;
        }
        pattern.n_pixels = n as f32;
        Some(pattern)
    }

    /// The sample at an offset from the middle.
    pub(super) fn at(&self, dx: i64, dy: i64) -> Option<f32> {
        let row = self.rows.iter().find(|row| row.dy == dy)?;
        let k = usize::try_from(dx - row.from_dx).ok().filter(|k| *k < row.n)?;
        self.samples.get(row.at + k).copied()
    }

    /// Correlation with a field around a place of it, -1 to 1; 0 where the disc leaves the field or the field is flat.
    pub(super) fn correlation(&self, field: &Field, place: (i64, i64)) -> f64 {
        correlate(self, field, place).unwrap_or(0.0)
    }
}

#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx+fma"))]
fn correlate(pattern: &Pattern, field: &Field, (x, y): (i64, i64)) -> Option<f64> {
    let (mut sum, mut squares, mut product) = ([0.0_f32; LANES], [0.0_f32; LANES], [0.0_f32; LANES]);
    for row in &pattern.rows {
        let Ok(from) = usize::try_from((y + row.dy) * field.width as i64 + x + row.from_dx) else {
            return None;
        };
        let n = row.n.next_multiple_of(LANES);
        if from + n > field.grey.len() {
            return None;
        }
        for i in (0..n).step_by(LANES) {
            let level = lanes::at(&field.grey, from + i);
            let sample = lanes::at(&pattern.samples, row.at + i);
            let mask = lanes::at(&pattern.mask, row.at + i);
            for k in 0..LANES {
                let seen = level[k] * mask[k];
                sum[k] += seen;
                squares[k] += seen * seen;
                product[k] += seen * sample[k];
            }
        }
    }
    let (sum, squares, product) = (total(&sum), total(&squares), total(&product));
    let spread = squares - sum * sum / f64::from(pattern.n_pixels);
    Some(if spread > 1e-3 { product / spread.sqrt() } else { 0.0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pattern_is_all_like_itself_and_not_at_all_like_flat_grey() {
        let rows = |level: fn(i64, i64) -> f32| {
            (-3..=3_i64).map(move |dy| {
                let half = 3 - dy.abs() / 2;
                (dy, -half, (-half..=half).map(|dx| level(dx, dy)).collect())
            })
        };
        let wave = |dx: i64, dy: i64| ((3 * dx + 5 * dy) % 7) as f32;
        let pattern = Pattern::new(rows(wave)).unwrap();
        let level = |i: usize| 40.0 + 2.5 * wave(i as i64 % 11 - 5, i as i64 / 11 - 4);
        let field = Field::new(&(0..99).map(level).collect::<Vec<f32>>(), 11);
        assert!((pattern.correlation(&field, (5, 4)) - 1.0).abs() < 1e-5);
        assert!(pattern.correlation(&field, (6, 4)).abs() < 0.9);
        assert!(pattern.correlation(&Field::new(&[9.0; 99], 11), (5, 4)).abs() < 1e-9);
        assert!(pattern.correlation(&field, (5, -40)).abs() < 1e-9);
        assert!(Pattern::new(rows(|_, _| 3.0)).is_none());
        assert!(pattern.at(0, 0).is_some() && pattern.at(4, 0).is_none() && pattern.at(0, 5).is_none());
    }
}
