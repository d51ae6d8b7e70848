//! Weighted least squares of shift and turn, and the search for one mark that is to blame for a misfit.

use super::{FixedMark, SteadyFailure, SteadyOptions, SteadyStep};
use filmgauge_quantities::{PixelCov, PixelPoint};

/// Rounds of the fit: the model is linear but for the turn, which is small.
const ROUNDS: usize = 4;

/// A mark in both frames; the covariance is that of their difference.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    number: usize,
    there: PixelPoint,
    here: PixelPoint,
    cov: PixelCov,
}

/// The marks that are there in both frames.
pub(super) fn pairs(
    reference: &[Option<FixedMark>],
    now: &[Option<FixedMark>],
    options: &SteadyOptions,
) -> Result<Vec<Pair>, SteadyFailure> {
    let mut pairs = Vec::new();
    for (number, marks) in reference.iter().zip(now).enumerate() {
        let (Some(there), Some(here)) = marks else { continue };
        let floor = 2.0 * options.mark_floor_px * options.mark_floor_px;
        let cov = PixelCov {
            xx: there.cov.xx + here.cov.xx + floor,
            xy: there.cov.xy + here.cov.xy,
            yy: there.cov.yy + here.cov.yy + floor,
        };
        let numbers = [there.point.x, there.point.y, here.point.x, here.point.y, cov.xx, cov.xy, cov.yy];
        let usable = numbers.iter().all(|number| number.is_finite());
        if !(usable && cov.xx > 0.0 && cov.yy > 0.0 && cov.xx * cov.yy > cov.xy * cov.xy) {
            return Err(SteadyFailure::BadMark { number });
        }
        pairs.push(Pair { number, there: there.point, here: here.point, cov });
    }
    if pairs.is_empty() { Err(SteadyFailure::NoMark) } else { Ok(pairs) }
}

/// The step that all marks agree on, or all but one.
pub(super) fn step(pairs: &[Pair], options: &SteadyOptions) -> Result<SteadyStep, SteadyFailure> {
    let n_marks = pairs.len();
    let all = Fit::of(pairs, options).ok_or(SteadyFailure::Unsolvable)?;
    if all.agrees(options) {
        return Ok(all.step(None));
    }
    let disagree = SteadyFailure::Disagree { n_marks, misfit_px: all.misfit_px() };
    if n_marks < 3 {
        return Err(disagree);
    }
    let without = |blamed: usize| {
        let rest: Vec<Pair> = pairs.iter().filter(|pair| pair.number != blamed).copied().collect();
        Fit::of(&rest, options).map(|fit| (blamed, fit))
    };
    let mut fits: Vec<(usize, Fit)> = pairs.iter().filter_map(|pair| without(pair.number)).collect();
    fits.sort_by(|a, b| a.1.surprise(options).0.total_cmp(&b.1.surprise(options).0));
    // One mark is to blame only if leaving it out mends the fit, with a turn that a frame may have, and leaving out any
    // other does not: two marks alone would take up a third one's error as a turn.
    match fits.first() {
        Some((blamed, fit))
            if fit.is_likely(options) && fits.get(1).is_none_or(|(_, other)| !other.is_likely(options)) =>
        {
            Ok(fit.step(Some(*blamed)))
        }
        _ => Err(disagree),
    }
}

/// Shift and turn fitted to some marks.
#[derive(Debug, Clone, Copy)]
struct Fit {
    pivot: PixelPoint,
    /// dx, dy, turn.
    values: [f64; 3],
    cov: [[f64; 3]; 3],
    turn_told: bool,
    n_marks: usize,
    chi2: f64,
    squares_px2: f64,
}

impl Fit {
    /// None only where the normal equations cannot be solved.
    fn of(pairs: &[Pair], options: &SteadyOptions) -> Option<Self> {
        let pivot = middle(pairs.iter().map(|pair| pair.there));
        #[expect(clippy::cast_precision_loss, reason = "a handful of marks")]
        let arm_px = (pairs.iter().map(|pair| pair.there.distance(pivot).powi(2)).sum::<f64>()
            / pairs.len() as f64)
            .sqrt();
        let turn_told = pairs.len() >= 2 && arm_px >= options.least_arm_px;
        let mut values = [0.0; 3];
        let mut cov = [[0.0; 3]; 3];
        for _ in 0..ROUNDS {
            let normal = Normal::of(pairs, pivot, values, turn_told);
            cov = inverse(normal.matrix)?;
            for (i, value) in values.iter_mut().enumerate() {
                *value += (0..3).map(|j| cov[i][j] * normal.rhs[j]).sum::<f64>();
            }
        }
        if !turn_told {
            // About the pivot a turn moves a lone mark not at all: its doubt stands beside that of the shift.
            cov[2] = [0.0, 0.0, options.untold_turn_sd_rad * options.untold_turn_sd_rad];
            (cov[0][2], cov[1][2]) = (0.0, 0.0);
        }
        let left = Normal::of(pairs, pivot, values, turn_told);
        values.iter().all(|value| value.is_finite()).then_some(Self {
            pivot,
            values,
            cov,
            turn_told,
            n_marks: pairs.len(),
            chi2: left.chi2,
            squares_px2: left.squares_px2,
        })
    }

    /// Coordinates read beyond the unknowns.
    fn spare(&self) -> usize {
        2 * self.n_marks - if self.turn_told { 3 } else { 2 }
    }

    fn agrees(&self, options: &SteadyOptions) -> bool {
        self.spare() == 0 || chance_beyond(self.chi2, self.spare()) >= options.significance
    }

    /// χ² and degrees of freedom with the turn that a frame is held to have taken in.
    fn surprise(&self, options: &SteadyOptions) -> (f64, usize) {
        let turn = self.values[2] / options.untold_turn_sd_rad;
        if self.turn_told && options.untold_turn_sd_rad > 0.0 {
            (self.chi2 + turn * turn, self.spare() + 1)
        } else {
            (self.chi2, self.spare())
        }
    }

    fn is_likely(&self, options: &SteadyOptions) -> bool {
        let (chi2, degrees) = self.surprise(options);
        degrees == 0 || chance_beyond(chi2, degrees) >= options.significance
    }

    fn misfit_px(&self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "a handful of marks")]
        (self.squares_px2 / self.n_marks as f64).sqrt()
    }

    fn step(&self, left_out: Option<usize>) -> SteadyStep {
        SteadyStep {
            pivot: self.pivot,
            dx_px: self.values[0],
            dy_px: self.values[1],
            turn_rad: self.values[2],
            cov: self.cov,
            turn_told: self.turn_told,
            n_marks: self.n_marks,
            left_out,
            misfit_px: (self.spare() > 0).then(|| self.misfit_px()),
        }
    }
}

/// Normal equations about given values.
#[derive(Debug, Clone, Copy, Default)]
struct Normal {
    matrix: [[f64; 3]; 3],
    rhs: [f64; 3],
    chi2: f64,
    squares_px2: f64,
}

impl Normal {
    fn of(pairs: &[Pair], pivot: PixelPoint, values: [f64; 3], turn_told: bool) -> Self {
        let mut normal = Self::default();
        let (sin, cos) = values[2].sin_cos();
        for pair in pairs {
            let (x, y) = (pair.there.x - pivot.x, pair.there.y - pivot.y);
            let (right, down) = (x * cos - y * sin, x * sin + y * cos);
            let residual =
                [pair.here.x - pivot.x - values[0] - right, pair.here.y - pivot.y - values[1] - down];
            let by_turn = if turn_told { [-down, right] } else { [0.0, 0.0] };
            normal.add([[1.0, 0.0, by_turn[0]], [0.0, 1.0, by_turn[1]]], residual, &pair.cov);
        }
        if !turn_told {
            normal.matrix[2][2] = 1.0;
        }
        normal
    }

    fn add(&mut self, slopes: [[f64; 3]; 2], residual: [f64; 2], cov: &PixelCov) {
        let det = cov.xx * cov.yy - cov.xy * cov.xy;
        let weight = [[cov.yy / det, -cov.xy / det], [-cov.xy / det, cov.xx / det]];
        for a in 0..2 {
            for b in 0..2 {
                let w = weight[a][b];
                self.chi2 += residual[a] * w * residual[b];
                for i in 0..3 {
                    self.rhs[i] += slopes[a][i] * w * residual[b];
                    for j in 0..3 {
                        self.matrix[i][j] += slopes[a][i] * w * slopes[b][j];
                    }
                }
            }
        }
        self.squares_px2 += residual[0] * residual[0] + residual[1] * residual[1];
    }
}

/// Inverse of a symmetric positive matrix by cofactors, after scaling its diagonal to 1.
fn inverse(m: [[f64; 3]; 3]) -> Option<[[f64; 3]; 3]> {
    let scale = [0, 1, 2].map(|i| m[i][i].sqrt());
    if scale.iter().any(|s| !(s.is_finite() && *s > 0.0)) {
        return None;
    }
    let s = |i: usize, j: usize| m[i % 3][j % 3] / (scale[i % 3] * scale[j % 3]);
    let cofactor = |i: usize, j: usize| s(i + 1, j + 1) * s(i + 2, j + 2) - s(i + 1, j + 2) * s(i + 2, j + 1);
    let det: f64 = (0..3).map(|j| s(0, j) * cofactor(0, j)).sum();
    let entry = |i: usize, j: usize| cofactor(j, i) / det / (scale[i] * scale[j]);
    (det > 1e-12).then(|| [0, 1, 2].map(|i| [0, 1, 2].map(|j| entry(i, j))))
}

fn middle(points: impl Iterator<Item = PixelPoint>) -> PixelPoint {
    let (sum, n) = points.fold((PixelPoint::default(), 0.0), |(sum, n), at| (sum.moved(at.x, at.y), n + 1.0));
    PixelPoint::new(sum.x / n, sum.y / n)
}

/// Chance that χ² exceeds a value: the finite sums for whole degrees of freedom (Abramowitz & Stegun 1964, 26.4.4 and
/// 26.4.5; the normal tail of odd degrees by 7.1.26, good to 2e-7).
fn chance_beyond(chi2: f64, degrees: usize) -> f64 {
    let half = 0.5 * chi2.max(0.0);
    let root = chi2.max(0.0).sqrt();
    let (mut term, mut sum, mut from) = if degrees.is_multiple_of(2) {
        ((-half).exp(), (-half).exp(), 2.0)
    } else {
        let density = (2.0 / std::f64::consts::PI).sqrt() * (-half).exp();
        (density / root.max(1e-300), complement(root * std::f64::consts::FRAC_1_SQRT_2), 1.0)
    };
    for _ in 1..degrees.div_ceil(2) {
        term *= chi2.max(0.0) / from;
        sum += term;
        from += 2.0;
    }
    sum
}

/// erfc for arguments of at least 0 (Abramowitz & Stegun 7.1.26).
fn complement(x: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.327_591_1 * x);
    let series = [0.254_829_592, -0.284_496_736, 1.421_413_741, -1.453_152_027, 1.061_405_429];
    series.iter().rev().fold(0.0, |sum, a| (sum + a) * t) * (-x * x).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chances_are_those_of_the_printed_tables() {
        // Upper 5 % points of χ² as tabulated (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4).
        for (degrees, point) in [(1, 3.841), (2, 5.991), (3, 7.815), (4, 9.488), (5, 11.070), (9, 16.919)] {
            assert!((chance_beyond(point, degrees) - 0.05).abs() < 2e-5, "{degrees}");
        }
        assert!((chance_beyond(0.0, 3) - 1.0).abs() < 1e-6);
    }
}
