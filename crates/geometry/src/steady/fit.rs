//! Weighted least squares of a step's numbers, and the search for one mark that is to blame for a misfit.

use super::chance::chance_beyond;
use super::shape::{MOST, Shape, Values};
use super::{FixedMark, SteadyFailure, SteadyModel, SteadyOptions, SteadyStep};
use filmgauge_quantities::{PixelCov, PixelPoint};
use nalgebra::{Matrix2, SMatrix, SVector, Vector2};

/// Rounds of the fit; the models are nearly linear in their numbers.
const ROUNDS: usize = 6;

/// A mark in both frames; the covariance is that of their difference.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    pub(super) number: usize,
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
    let mut fits = without_one(pairs, options);
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

/// The fit without each mark in turn, with that mark's number.
fn without_one(pairs: &[Pair], options: &SteadyOptions) -> Vec<(usize, Fit)> {
    let without = |blamed: usize| {
        let rest: Vec<Pair> = pairs.iter().filter(|pair| pair.number != blamed).copied().collect();
        Fit::of(&rest, options).map(|fit| (blamed, fit))
    };
    pairs.iter().filter_map(|pair| without(pair.number)).collect()
}

/// What the marks of one frame say for a model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Said {
    pub(super) chi2: f64,
    /// Numbers that the marks were explained with.
    pub(super) n_values: usize,
    /// Coordinates beyond them.
    pub(super) spare: usize,
}

/// A mark that moved on its own is explained by its own two numbers where that is the better bargain, so that it does
/// not speak for a model that can bend after it. `price` is what a number costs in χ².
pub(super) fn said(pairs: &[Pair], options: &SteadyOptions, price: f64) -> Option<Said> {
    let all = Fit::of(pairs, options)?;
    let n_values = options.model.n_values();
    let whole = Said { chi2: all.chi2, n_values, spare: all.spare() };
    if all.agrees(options) || pairs.len() < 4 {
        return Some(whole);
    }
    let rest = without_one(pairs, options).into_iter().map(|(_, fit)| fit);
    let best = rest.min_by(|a, b| a.chi2.total_cmp(&b.chi2));
    let moved = best.map(|fit| Said { chi2: fit.chi2, n_values: n_values + 2, spare: fit.spare() });
    Some(moved.filter(|moved| moved.chi2 + 2.0 * price < whole.chi2).unwrap_or(whole))
}

/// A step's numbers fitted to some marks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fit {
    shape: Shape,
    values: Values,
    cov: [[f64; MOST]; MOST],
    turn_told: bool,
    n_marks: usize,
    pub(super) chi2: f64,
    squares_px2: f64,
}

impl Fit {
    /// None only where the normal equations cannot be solved.
    pub(super) fn of(pairs: &[Pair], options: &SteadyOptions) -> Option<Self> {
        let pivot = middle(pairs.iter().map(|pair| pair.there));
        #[expect(clippy::cast_precision_loss, reason = "a handful of marks")]
        let arm_px = (pairs.iter().map(|pair| pair.there.distance(pivot).powi(2)).sum::<f64>()
            / pairs.len() as f64)
            .sqrt();
        let turn_told = pairs.len() >= 2 && arm_px >= options.least_arm_px;
        let model = model_for(options.model, pairs.len(), turn_told);
        let shape = Shape { model, pivot, arm_px: arm_px.max(1.0) };
        let free = if turn_told { model.n_values() } else { 2 };
        let mut values = [0.0; MOST];
        let mut cov = SMatrix::<f64, MOST, MOST>::zeros();
        for _ in 0..ROUNDS {
            let normal = Normal::of(pairs, &shape, &values, free);
            cov = inverse(&normal.matrix, free)?;
            let change = cov * normal.rhs;
            for (value, change) in values.iter_mut().zip(change.iter()) {
                *value += change;
            }
        }
        if !turn_told && model.n_values() > 2 {
            // About the pivot a turn moves a lone mark not at all: its doubt stands beside that of the shift.
            cov[(2, 2)] = options.untold_turn_sd_rad * options.untold_turn_sd_rad;
        }
        let left = Normal::of(pairs, &shape, &values, free);
        values.iter().all(|value| value.is_finite()).then_some(Self {
            shape,
            values,
            cov: std::array::from_fn(|i| std::array::from_fn(|j| cov[(i, j)])),
            turn_told: turn_told && model.n_values() > 2,
            n_marks: pairs.len(),
            chi2: left.chi2,
            squares_px2: left.squares_px2,
        })
    }

    /// Coordinates read beyond the unknowns.
    pub(super) fn spare(&self) -> usize {
        let free = if self.turn_told { self.shape.model.n_values() } else { 2 };
        2 * self.n_marks - free
    }

    fn agrees(&self, options: &SteadyOptions) -> bool {
        self.spare() == 0 || chance_beyond(self.chi2, self.spare()) >= options.significance
    }

    /// χ² and degrees of freedom. Two marks agree with nearly any turn: there the turn that a frame is held to have counts
    /// too. Three or more speak for themselves, and a camera that shakes may well turn further.
    fn surprise(&self, options: &SteadyOptions) -> (f64, usize) {
        let turn = self.values[2] / options.untold_turn_sd_rad;
        if self.n_marks <= 2 && self.turn_told && options.untold_turn_sd_rad > 0.0 {
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
            shape: self.shape,
            values: self.values,
            cov: self.cov,
            turn_told: self.turn_told,
            n_marks: self.n_marks,
            left_out,
            misfit_px: (self.spare() > 0).then(|| self.misfit_px()),
        }
    }
}

/// The model that so few marks can tell: a change of perspective needs four, one of size two.
fn model_for(wanted: SteadyModel, n_marks: usize, turn_told: bool) -> SteadyModel {
    match wanted {
        SteadyModel::Plane if n_marks < 4 => SteadyModel::Turn,
        SteadyModel::Zoom if !turn_told => SteadyModel::Turn,
        other => other,
    }
}

/// Normal equations about given values.
struct Normal {
    matrix: SMatrix<f64, MOST, MOST>,
    rhs: SVector<f64, MOST>,
    chi2: f64,
    squares_px2: f64,
}

impl Normal {
    fn of(pairs: &[Pair], shape: &Shape, values: &Values, free: usize) -> Self {
        let mut normal =
            Self { matrix: SMatrix::zeros(), rhs: SVector::zeros(), chi2: 0.0, squares_px2: 0.0 };
        for pair in pairs {
            let seen = shape.place(values, pair.there);
            let residual = Vector2::new(pair.here.x - seen.x, pair.here.y - seen.y);
            let mut slopes = shape.by_values(values, pair.there);
            slopes.columns_mut(free, MOST - free).fill(0.0);
            let det = pair.cov.xx * pair.cov.yy - pair.cov.xy * pair.cov.xy;
            let weight = Matrix2::new(pair.cov.yy, -pair.cov.xy, -pair.cov.xy, pair.cov.xx) / det;
            normal.matrix += slopes.transpose() * weight * slopes;
            normal.rhs += slopes.transpose() * weight * residual;
            normal.chi2 += residual.dot(&(weight * residual));
            normal.squares_px2 += residual.norm_squared();
        }
        normal
    }
}

/// Inverse of the first `free` rows and columns, zero elsewhere, after scaling the diagonal to 1.
fn inverse(matrix: &SMatrix<f64, MOST, MOST>, free: usize) -> Option<SMatrix<f64, MOST, MOST>> {
    let scale: Vec<f64> = (0..free).map(|i| matrix[(i, i)].sqrt()).collect();
    if scale.iter().any(|s| !(s.is_finite() && *s > 0.0)) {
        return None;
    }
    let scaled = nalgebra::DMatrix::from_fn(free, free, |i, j| matrix[(i, j)] / (scale[i] * scale[j]));
    // Scaled to a diagonal of 1 the determinant says how far the unknowns can be told apart.
    if scaled.determinant() <= 1e-12 {
        return None;
    }
    let inverse = scaled.try_inverse()?;
    let mut whole = SMatrix::zeros();
    for i in 0..free {
        for j in 0..free {
            whole[(i, j)] = inverse[(i, j)] / (scale[i] * scale[j]);
        }
    }
    Some(whole)
}

fn middle(points: impl Iterator<Item = PixelPoint>) -> PixelPoint {
    let (sum, n) = points.fold((PixelPoint::default(), 0.0), |(sum, n), at| (sum.moved(at.x, at.y), n + 1.0));
    PixelPoint::new(sum.x / n, sum.y / n)
}
