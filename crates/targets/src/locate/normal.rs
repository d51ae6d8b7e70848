//! Least squares on the differences of opposite pixels: two unknowns for the centre, two for a linear
//! shading; freed of what noise in the slopes adds.

use super::pairs::{Pairs, Quieted};
use crate::lanes::sums_of_4;
use nalgebra::{Matrix4, Vector4};

/// Most of the squared slopes that noise can be held to be.
const MOST_SLOPE_NOISE: f64 = 0.7;

/// Normal equations of the four unknowns: centre x, centre y, shading along x and along y.
///
/// Var(difference) = s² (1 + gain); every pair is met from both of its ends, so that a fitted unknown takes 4 s² and half
/// the samples are news.
pub(super) struct Normal {
    /// Sums of slopes times falls, freed of the noise that the two share.
    pub(super) matrix: Matrix4<f64>,
    /// Right-hand side, freed likewise.
    rhs: Vector4<f64>,
    /// What the differences' noise meets: sums of slopes times slopes, noise included.
    met: Matrix4<f64>,
    /// Standard deviation of one pixel from the residual, grey levels, not below the floor.
    pub(super) residual: f64,
    /// Degrees of freedom of that, each pair of pixels counted once.
    pub(super) dof: f64,
    /// Noise's share in the squared slopes, along the worse axis.
    pub(super) slope_noise_share: f64,
}

impl Normal {
    pub(super) fn of(pairs: &Pairs, floor: f64) -> Self {
        let sums = sums_of_4(columns(pairs), &pairs.difference);
        let ((squared, rhs), squares) = (sums.normal(), sums.squares);
        let rhs = -rhs;
        let n_pairs = pairs.difference.len() as f64;
        let gain = 1.0 + pairs.opposite.0.value * pairs.opposite.1.value;
        let explained = squared.cholesky().map_or(0.0, |root| rhs.dot(&root.solve(&rhs)));
        let residual2 = (squares - explained).max(0.0) / (n_pairs * gain - 16.0).max(1.0);
        let residual = residual2.sqrt().max(floor);
        let sums = Sums { squared, rhs, residual, n_pairs };
        match &pairs.quieted {
            Some(quieted) => sums.quieted(pairs, quieted),
            None => sums.freed(pairs, gain),
        }
    }

    /// The step of the centre; `None` when the edges do not fix it.
    pub(super) fn step(&self) -> Option<(f64, f64)> {
        if self.dof < 2.0 || self.matrix[(0, 0)] <= 0.0 || self.matrix[(1, 1)] <= 0.0 {
            return None;
        }
        let step = self.matrix.lu().solve(&self.rhs)?;
        (self.matrix.determinant() > 0.0 && step.iter().all(|s| s.is_finite())).then_some((step[0], step[1]))
    }

    /// Covariance of the unknowns for a variance of 1/4 of one pixel.
    pub(super) fn spread(&self) -> Option<Matrix4<f64>> {
        let inverse = self.matrix.try_inverse()?;
        Some(inverse * self.met * inverse.transpose())
    }
}

/// Plain sums over the pairs.
struct Sums {
    squared: Matrix4<f64>,
    rhs: Vector4<f64>,
    residual: f64,
    n_pairs: f64,
}

impl Sums {
    /// Takes off what the noise of the spline's slopes adds to the sums.
    fn freed(self, pairs: &Pairs, gain: f64) -> Normal {
        let (gx, gy) = pairs.opposite;
        let at_pixel = pairs.at_pixel.slope * pairs.at_pixel.value;
        let noise = self.n_pairs * self.residual * self.residual;
        // Far from the centre the residual is more than noise; what is taken off must leave something to step by.
        let most = |sum: f64, gain: f64| (noise * gain).min(MOST_SLOPE_NOISE * sum);
        let slope_noise = (
            most(self.squared[(0, 0)], at_pixel + gx.slope * gy.value),
            most(self.squared[(1, 1)], at_pixel + gx.value * gy.slope),
        );
        let (mut matrix, mut rhs) = (self.squared, self.rhs);
        matrix[(0, 0)] -= slope_noise.0;
        matrix[(1, 1)] -= slope_noise.1;
        matrix[(0, 1)] -= noise * gx.mixed * gy.mixed;
        matrix[(1, 0)] -= noise * gx.mixed * gy.mixed;
        rhs[0] += noise * gx.mixed * gy.value;
        rhs[1] += noise * gx.value * gy.mixed;
        let mut met = matrix;
        met[(0, 0)] += slope_noise.0 * gain / 2.0;
        met[(1, 1)] += slope_noise.1 * gain / 2.0;
        let share = |noise: f64, all: f64| if all > 0.0 { noise / all } else { 1.0 };
        let slope_noise_share =
            share(slope_noise.0, self.squared[(0, 0)]).max(share(slope_noise.1, self.squared[(1, 1)]));
        self.normal(matrix, rhs, met, slope_noise_share)
    }

    /// Quieted slopes share no noise with falls; the two ends of a pair hold it independently, which halves its weight.
    fn quieted(self, pairs: &Pairs, quieted: &Quieted) -> Normal {
        let falls: [&[f32]; 4] = [&quieted.falls.0, &quieted.falls.1, &pairs.dx, &pairs.dy];
        let columns = columns(pairs);
        let crossed = Matrix4::from_fn(|i, j| product(columns[i], falls[j]));
        let slope_noise = 4.0 * quieted.noise_gain * self.n_pairs * self.residual * self.residual;
        let mut met = self.squared;
        met[(0, 0)] -= slope_noise / 2.0;
        met[(1, 1)] -= slope_noise / 2.0;
        let rhs = self.rhs;
        self.normal(crossed, rhs, met, 0.0)
    }

    fn normal(
        self,
        matrix: Matrix4<f64>,
        rhs: Vector4<f64>,
        met: Matrix4<f64>,
        slope_noise_share: f64,
    ) -> Normal {
        let dof = self.n_pairs / 2.0 - 4.0;
        Normal { matrix, rhs, met, residual: self.residual, dof, slope_noise_share }
    }
}

/// Slopes, and what a linear shading changes: its unknown is minus twice the shading.
fn columns(pairs: &Pairs) -> [&[f32]; 4] {
    [&pairs.slope_x, &pairs.slope_y, &pairs.dx, &pairs.dy]
}

fn product(a: &[f32], b: &[f32]) -> f64 {
    a.iter().zip(b).map(|(a, b)| f64::from(*a) * f64::from(*b)).sum()
}
