//! The bundle: lens and all poses at once, by Levenberg and Marquardt's damped least squares with analytic derivatives. The
//! views meet only in the lens, so each view's pose is eliminated first and a system of nine unknowns is left (Schur
//! complement; Triggs et al. 2000, Bundle adjustment: a modern synthesis, section 6.1).

use super::pose::{Pose, Slopes, pictured, slopes};
use crate::Lens;
use crate::lens_file::{from_terms, terms};
use filmgauge_quantities::PixelPoint;
use nalgebra::{SMatrix, SVector};

type Nine = SMatrix<f64, 9, 9>;
type Six = SMatrix<f64, 6, 6>;
type NineSix = SMatrix<f64, 9, 6>;

/// What is fitted to what.
pub(super) struct Problem<'a> {
    /// Corners of the grid in its plane, m.
    pub(super) grid: &'a [[f64; 2]],
    /// The same corners as seen in each view.
    pub(super) views: Vec<&'a [PixelPoint]>,
    /// Which terms of the lens are free, in the order of `LENS_TERMS`.
    pub(super) free: [bool; 9],
    /// Residual from which Huber's loss grows linearly, px; `None` for plain least squares.
    pub(super) clip_px: Option<f64>,
    /// Most rounds.
    pub(super) most_rounds: u32,
}

/// A lens and the poses of all views.
#[derive(Debug, Clone)]
pub(super) struct State {
    pub(super) lens: Lens,
    pub(super) poses: Vec<Pose>,
}

/// Where the bundle ended.
pub(super) struct Settled {
    pub(super) state: State,
    /// Sum of Huber's loss in px²: the sum of squares where nothing is clipped.
    pub(super) loss: f64,
    pub(super) rounds: u32,
    /// Whether the last step changed nothing any more.
    pub(super) is_settled: bool,
}

/// Normal equations by blocks.
struct Blocks {
    lens: Nine,
    lens_right: SVector<f64, 9>,
    views: Vec<(Six, NineSix, SVector<f64, 6>)>,
}

/// Huber's loss of a squared residual, px².
fn loss(square: f64, clip_px: Option<f64>) -> f64 {
    match clip_px {
        Some(clip) if square > clip * clip => 2.0 * clip * square.sqrt() - clip * clip,
        _ => square,
    }
}

/// Weight of a residual of that square: 1 up to the clip, falling beyond.
pub(super) fn weight(square: f64, clip_px: Option<f64>) -> f64 {
    match clip_px {
        Some(clip) if square > clip * clip => clip / square.sqrt(),
        _ => 1.0,
    }
}

impl Problem<'_> {
    /// Sum of the loss; `None` where a corner lies behind the camera or the sum is not finite.
    fn total(&self, state: &State) -> Option<f64> {
        let mut sum = 0.0;
        for (view, pose) in self.views.iter().zip(&state.poses) {
            for (point, seen) in self.grid.iter().zip(*view) {
                let at = pictured(&state.lens, pose, *point)?;
                sum += loss((seen.x - at.x).powi(2) + (seen.y - at.y).powi(2), self.clip_px);
            }
        }
        sum.is_finite().then_some(sum)
    }

    /// Normal equations at a state; `weighs` with the loss's weights, else plain.
    fn blocks(&self, state: &State, weighs: bool) -> Option<Blocks> {
        let mut blocks = Blocks { lens: Nine::zeros(), lens_right: SVector::zeros(), views: Vec::new() };
        for (view, pose) in self.views.iter().zip(&state.poses) {
            let (mut own, mut mixed, mut right) =
                (Six::zeros(), NineSix::zeros(), SVector::<f64, 6>::zeros());
            for (point, seen) in self.grid.iter().zip(*view) {
                let Slopes { at, mut by_lens, by_pose } = slopes(&state.lens, pose, *point)?;
                for (term, is_free) in self.free.iter().enumerate() {
                    if !is_free {
                        by_lens.column_mut(term).fill(0.0);
                    }
                }
                let residual = SVector::<f64, 2>::new(seen.x - at.x, seen.y - at.y);
                let w = if weighs { weight(residual.norm_squared(), self.clip_px) } else { 1.0 };
                blocks.lens += by_lens.transpose() * by_lens * w;
                blocks.lens_right += by_lens.transpose() * residual * w;
                own += by_pose.transpose() * by_pose * w;
                mixed += by_lens.transpose() * by_pose * w;
                right += by_pose.transpose() * residual * w;
            }
            blocks.views.push((own, mixed, right));
        }
        Some(blocks)
    }

    /// The step that the damped normal equations give; `None` where they are singular.
    fn step(&self, blocks: &Blocks, damping: f64) -> Option<(SVector<f64, 9>, Vec<SVector<f64, 6>>)> {
        let mut left = damped(blocks.lens, damping);
        let mut right = blocks.lens_right;
        let mut inverses = Vec::with_capacity(blocks.views.len());
        for (own, mixed, own_right) in &blocks.views {
            let inverse = damped(*own, damping).cholesky()?.inverse();
            left -= mixed * inverse * mixed.transpose();
            right -= mixed * inverse * own_right;
            inverses.push(inverse);
        }
        for (term, is_free) in self.free.iter().enumerate() {
            if !is_free {
                left[(term, term)] = 1.0;
                right[term] = 0.0;
            }
        }
        let lens = scaled_inverse(&left)? * right;
        let poses = blocks.views.iter().zip(&inverses);
        let poses =
            poses.map(|((_, mixed, own_right), inverse)| inverse * (own_right - mixed.transpose() * lens));
        Some((lens, poses.collect()))
    }

    /// Inverse of the lens's part of the plain normal equations, poses eliminated: the covariance of its terms for a unit
    /// variance of one coordinate of a corner. Rows and columns of terms held fixed are 0; `None` where it is singular.
    pub(super) fn unit_covariance(&self, state: &State) -> Option<Nine> {
        let blocks = self.blocks(state, false)?;
        let mut left = blocks.lens;
        for (own, mixed, _) in &blocks.views {
            left -= mixed * own.cholesky()?.inverse() * mixed.transpose();
        }
        for (term, is_free) in self.free.iter().enumerate() {
            if !is_free {
                left[(term, term)] = 1.0;
            }
        }
        let mut inverse = scaled_inverse(&left)?;
        for (term, is_free) in self.free.iter().enumerate() {
            if !is_free {
                inverse[(term, term)] = 0.0;
            }
        }
        Some(inverse)
    }
}

fn damped<const N: usize>(mut block: SMatrix<f64, N, N>, damping: f64) -> SMatrix<f64, N, N> {
    for k in 0..N {
        block[(k, k)] *= 1.0 + damping;
    }
    block
}

/// Inverse of a positive definite matrix whose unknowns have very different sizes.
fn scaled_inverse(left: &Nine) -> Option<Nine> {
    let scale = left.diagonal().map(|value| if value > 0.0 { 1.0 / value.sqrt() } else { f64::NAN });
    let scale = Nine::from_diagonal(&scale);
    let inverse = (scale * left * scale).cholesky()?.inverse();
    let inverse = scale * inverse * scale;
    inverse.iter().all(|value| value.is_finite()).then_some(inverse)
}

/// The least loss that can be reached from `start`; `None` where the start itself has none.
pub(super) fn settle(problem: &Problem<'_>, start: &State) -> Option<Settled> {
    /// A round that lowers the loss by less than this share ends the search.
    const SETTLED_SHARE: f64 = 1e-13;
    /// So does one that lowers it by less than this, px²: what rounding leaves of exact corners.
    const SETTLED_PX2: f64 = 1e-16;
    let mut state = start.clone();
    let mut total = problem.total(&state)?;
    let mut damping = 1e-3;
    for round in 1..=problem.most_rounds {
        let blocks = problem.blocks(&state, true)?;
        let mut has_moved = false;
        while damping < 1e12 {
            if let Some((next, sum)) =
                tried(problem, &state, &blocks, damping).filter(|(_, sum)| *sum <= total)
            {
                let gain = total - sum;
                (state, total, has_moved) = (next, sum, gain > SETTLED_SHARE * total + SETTLED_PX2);
                damping = (damping / 10.0).max(1e-12);
                break;
            }
            damping *= 10.0;
        }
        if !has_moved {
            return Some(Settled { state, loss: total, rounds: round, is_settled: true });
        }
    }
    Some(Settled { state, loss: total, rounds: problem.most_rounds, is_settled: false })
}

fn tried(problem: &Problem<'_>, state: &State, blocks: &Blocks, damping: f64) -> Option<(State, f64)> {
    let (lens_step, pose_steps) = problem.step(blocks, damping)?;
    let mut values = terms(&state.lens);
    for (value, step) in values.iter_mut().zip(lens_step.iter()) {
        *value += step;
    }
    if values[0] <= 0.0 || values[1] <= 0.0 {
        return None;
    }
    let poses = state.poses.iter().zip(&pose_steps).map(|(pose, step)| pose.stepped(step)).collect();
    let next = State { lens: from_terms(values), poses };
    let total = problem.total(&next)?;
    Some((next, total))
}
