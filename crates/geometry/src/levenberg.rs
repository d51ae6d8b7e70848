//! Weighted non-linear least squares for a few unknowns, by damped Gauss-Newton steps (Levenberg 1944, Marquardt 1963).

use nalgebra::{Const, DimMin, SMatrix, SVector};

/// Rounds in which the weights are taken anew from the last fit.
const MOST_ROUNDS: usize = 20;
/// Steps of one round.
const MOST_STEPS: usize = 200;
/// A step counts as none below this share of each unknown's standard uncertainty.
const SMALL: f64 = 1e-7;
/// Damping beyond which no step lowers the sum.
const MOST_DAMPING: f64 = 1e12;

/// Normal equations at one state.
pub(crate) struct Equations<const N: usize> {
    pub(crate) normal: SMatrix<f64, N, N>,
    /// Slopes times weight times residual.
    pub(crate) right: SVector<f64, N>,
    pub(crate) chi2: f64,
}

impl<const N: usize> Equations<N> {
    pub(crate) fn none() -> Self {
        Self { normal: SMatrix::zeros(), right: SVector::zeros(), chi2: 0.0 }
    }

    /// Adds an observation of `M` coordinates: seen less model, inverse covariance, slopes of the model.
    pub(crate) fn add<const M: usize>(
        &mut self,
        residual: &SVector<f64, M>,
        weight: &SMatrix<f64, M, M>,
        slopes: &SMatrix<f64, M, N>,
    ) {
        let weighted = slopes.transpose() * weight;
        self.normal += weighted * slopes;
        self.right += weighted * residual;
        self.chi2 += residual.dot(&(weight * residual));
    }
}

/// Where the steps came to rest.
pub(crate) struct Settled<X, const N: usize> {
    pub(crate) at: X,
    pub(crate) cov: SMatrix<f64, N, N>,
    pub(crate) chi2: f64,
}

/// The state of least χ² near `start`; `None` where the equations do not fix it or the steps do not settle.
///
/// `equations(at, weights_at)` gives the equations at a state, with the weights of another: those follow once a round, so
/// that each round has one sum to lower. `moved` applies a step.
pub(crate) fn settled<X: Clone, const N: usize>(
    start: X,
    equations: impl Fn(&X, &X) -> Option<Equations<N>>,
    moved: impl Fn(&X, &SVector<f64, N>) -> X,
) -> Option<Settled<X, N>>
where
    Const<N>: DimMin<Const<N>, Output = Const<N>>,
{
    let mut at = start;
    for _ in 0..MOST_ROUNDS {
        let weights_at = at.clone();
        let first = equations(&at, &weights_at)?;
        let (next, last) = one_round(at, first, |at| equations(at, &weights_at), &moved)?;
        at = next;
        let again = equations(&at, &at)?;
        let cov = again.normal.cholesky()?.inverse();
        let step = cov * again.right;
        if is_small(&step, &cov) || (last.chi2 - again.chi2).abs() <= 1e-14 * again.chi2 {
            return Some(Settled { at, cov, chi2: again.chi2 });
        }
    }
    None
}

fn is_small<const N: usize>(step: &SVector<f64, N>, cov: &SMatrix<f64, N, N>) -> bool {
    (0..N).all(|k| step[k].abs() <= SMALL * cov[(k, k)].sqrt())
}

fn one_round<X: Clone, const N: usize>(
    start: X,
    first: Equations<N>,
    equations: impl Fn(&X) -> Option<Equations<N>>,
    moved: impl Fn(&X, &SVector<f64, N>) -> X,
) -> Option<(X, Equations<N>)>
where
    Const<N>: DimMin<Const<N>, Output = Const<N>>,
{
    let (mut at, mut here, mut damping) = (start, first, 1e-6);
    for _ in 0..MOST_STEPS {
        let cov = here.normal.cholesky()?.inverse();
        if !cov.iter().all(|value| value.is_finite()) {
            return None;
        }
        if is_small(&(cov * here.right), &cov) || damping > MOST_DAMPING {
            return Some((at, here));
        }
        let damped = here.normal + SMatrix::from_diagonal(&(here.normal.diagonal() * damping));
        let step = damped.cholesky()?.solve(&here.right);
        let next = moved(&at, &step);
        match equations(&next) {
            Some(there) if there.chi2 < here.chi2 => {
                (at, here) = (next, there);
                damping = (damping * 0.1).max(1e-12);
            }
            // Rounding alone keeps the sum from falling.
            Some(there) if there.chi2 <= here.chi2 * (1.0 + 1e-13) => return Some((next, there)),
            _ => damping *= 10.0,
        }
    }
    Some((at, here))
}
