//! Normal equations of the bundle: a band for the coefficients of each track, bordered by what all tracks share, and their
//! solution by elimination of the tracks (Brown 1976, the bundle adjustment's reduced normal equations).

use super::band::{Band, BandFactor};
use nalgebra::{DMatrix, DVector, SMatrix, SVector};

/// Equations of one track.
pub(super) struct TrackEquations {
    pub(super) band: Band,
    /// Rows: coefficients; columns: shared unknowns.
    pub(super) border: DMatrix<f64>,
    pub(super) right: DVector<f64>,
}

/// Equations of all tracks and of what they share.
pub(super) struct BundleEquations {
    pub(super) tracks: Vec<TrackEquations>,
    pub(super) shared: DMatrix<f64>,
    pub(super) right: DVector<f64>,
    pub(super) chi2: f64,
}

/// What one mark says: residual, weight, slopes by the point, weights of the four coefficients that make the point, and slopes
/// by shared unknowns as pairs of place and slope.
pub(super) struct MarkTerms<'a> {
    pub(super) residual: SVector<f64, 2>,
    pub(super) weight: SMatrix<f64, 2, 2>,
    pub(super) by_point: SMatrix<f64, 2, 3>,
    pub(super) first: usize,
    pub(super) value: [f64; 4],
    pub(super) shared: &'a [(usize, SVector<f64, 2>)],
}

/// Unknowns of one coefficient: x, y, z.
const N_AXES: usize = 3;
/// Four neighbouring coefficients meet in one mark.
const WIDTH: usize = 4 * N_AXES - 1;

impl TrackEquations {
    pub(super) fn zeros(n_coefficients: usize, n_shared: usize) -> Self {
        let n = N_AXES * n_coefficients;
        Self { band: Band::zeros(n, WIDTH), border: DMatrix::zeros(n, n_shared), right: DVector::zeros(n) }
    }

    /// Adds that a combination of coefficients' axis is `residual` away from 0 with an inverse variance.
    pub(super) fn add_prior(&mut self, axis: usize, terms: &[(usize, f64)], residual: f64, weight: f64) {
        for &(a, by_a) in terms {
            let row = N_AXES * a + axis;
            self.right[row] += by_a * weight * residual;
            for &(b, by_b) in terms.iter().filter(|(b, _)| *b <= a) {
                self.band.add(row, N_AXES * b + axis, by_a * weight * by_b);
            }
        }
    }
}

impl BundleEquations {
    pub(super) fn add(&mut self, track: usize, mark: &MarkTerms<'_>) {
        let weighted = mark.weight * mark.residual;
        self.chi2 += mark.residual.dot(&weighted);
        let equations = &mut self.tracks[track];
        let square = mark.by_point.transpose() * mark.weight * mark.by_point;
        let right = mark.by_point.transpose() * weighted;
        for (k, by_k) in mark.value.iter().enumerate() {
            for axis in 0..N_AXES {
                let row = N_AXES * (mark.first + k) + axis;
                equations.right[row] += by_k * right[axis];
                for (l, by_l) in mark.value.iter().enumerate().take(k + 1) {
                    for other in 0..N_AXES {
                        let column = N_AXES * (mark.first + l) + other;
                        if column <= row {
                            equations.band.add(row, column, by_k * by_l * square[(axis, other)]);
                        }
                    }
                }
            }
        }
        for (place, slope) in mark.shared {
            let along = mark.weight * slope;
            self.right[*place] += along.dot(&mark.residual);
            let by_point = mark.by_point.transpose() * along;
            for (k, by_k) in mark.value.iter().enumerate() {
                for axis in 0..N_AXES {
                    equations.border[(N_AXES * (mark.first + k) + axis, *place)] += by_k * by_point[axis];
                }
            }
            for (other, by_other) in mark.shared {
                self.shared[(*place, *other)] += along.dot(by_other);
            }
        }
    }

    /// Solves with the diagonals raised by the share `damping`; `None` where the equations fix no solution.
    pub(super) fn solved(self, damping: f64) -> Option<Solution> {
        let n_shared = self.right.len();
        let mut reduced = self.shared;
        for k in 0..n_shared {
            reduced[(k, k)] *= 1.0 + damping;
        }
        let mut right = self.right;
        let mut eliminated = Vec::with_capacity(self.tracks.len());
        for mut track in self.tracks {
            track.band.damp(1.0 + damping);
            let factor = track.band.factored()?;
            let own = factor.solve(&DMatrix::from_columns(&[track.right]));
            let by_shared = factor.solve(&track.border);
            reduced -= track.border.transpose() * &by_shared;
            right -= track.border.transpose() * own.column(0);
            eliminated.push(Eliminated { factor, own: own.column(0).into_owned(), by_shared });
        }
        let cov = if n_shared == 0 { DMatrix::zeros(0, 0) } else { reduced.cholesky()?.inverse() };
        let shared = &cov * right;
        let tracks: Vec<DVector<f64>> =
            eliminated.iter().map(|track| &track.own - &track.by_shared * &shared).collect();
        Some(Solution { shared, tracks, cov, eliminated })
    }
}

/// One track with its own unknowns eliminated.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Eliminated {
    factor: BandFactor,
    own: DVector<f64>,
    by_shared: DMatrix<f64>,
}

/// A step and the covariances at its start.
pub(super) struct Solution {
    pub(super) shared: DVector<f64>,
    pub(super) tracks: Vec<DVector<f64>>,
    /// Covariance of the shared unknowns.
    pub(super) cov: DMatrix<f64>,
    pub(super) eliminated: Vec<Eliminated>,
}

impl Eliminated {
    /// Covariance of a combination of coefficients (the same weights on each axis), x, y, z.
    pub(super) fn cov_of(&self, first: usize, value: &[f64; 4], shared: &DMatrix<f64>) -> SMatrix<f64, 3, 3> {
        let n = self.own.len();
        let mut pick = DMatrix::<f64>::zeros(n, N_AXES);
        for (k, by_k) in value.iter().enumerate() {
            for axis in 0..N_AXES {
                pick[(N_AXES * (first + k) + axis, axis)] = *by_k;
            }
        }
        let own = pick.transpose() * self.factor.solve(&pick);
        let follows = pick.transpose() * &self.by_shared;
        let all = own + &follows * shared * follows.transpose();
        SMatrix::from_fn(|row, column| all[(row, column)])
    }
}
