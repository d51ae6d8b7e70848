//! Levenberg-Marquardt for a pose on stored pixels, from several first poses, and which of the minima found are different.

use super::Sighted;
use crate::Lens;
use crate::camera::{CameraPose, ideal_of, stored_by_lens, stored_by_point_and_pose};
use crate::levenberg::{Equations, Settled, settled};
use crate::rigid::{angle_between, vector};
use filmgauge_quantities::PixelPoint;
use nalgebra::{Const, DimMin, Matrix2, SMatrix, SVector, Vector2, Vector3};

/// First poses that are refined, best first.
const MOST_REFINED: usize = 8;
/// Two poses are one when their rotations differ by less, rad.
const SAME_RAD: f64 = 1e-3;
/// Factors on the guessed focal length that are tried.
const FOCAL_FACTORS: [f64; 5] = [1.0, 0.6, 1.7, 0.35, 3.0];

/// A refined pose.
#[derive(Debug, Clone)]
pub(super) struct Refined {
    pub(super) lens: Lens,
    pub(super) pose: CameraPose,
    pub(super) cov: SMatrix<f64, 6, 6>,
    pub(super) by_lens: SMatrix<f64, 6, 9>,
    pub(super) focal_relative_u: Option<f64>,
    pub(super) chi2: f64,
    /// For each point: its index, residual in px, share of χ².
    pub(super) residuals: Vec<(usize, Vector2<f64>, f64)>,
}

/// The state of the steps.
#[derive(Debug, Clone, Copy)]
struct View {
    lens: Lens,
    pose: CameraPose,
}

/// Different minima, best first.
pub(super) fn refined(
    points: &[Sighted],
    lens: &Lens,
    firsts: &[CameraPose],
    finds_focal: bool,
) -> Vec<Refined> {
    let factors = if finds_focal { &FOCAL_FACTORS[..] } else { &FOCAL_FACTORS[..1] };
    let mut views: Vec<(f64, View)> = Vec::new();
    for &factor in factors {
        let lens = Lens { fx_px: lens.fx_px * factor, fy_px: lens.fy_px * factor, ..*lens };
        let of = firsts.iter().map(|pose| View { lens, pose: *pose });
        views.extend(of.filter_map(|view| Some((squares(points, &view)?, view))));
    }
    views.sort_by(|a, b| a.0.total_cmp(&b.0));
    views.truncate(MOST_REFINED * factors.len());
    let mut found: Vec<Refined> = Vec::new();
    for (_, view) in views {
        let next = if finds_focal { one::<7>(points, view) } else { one::<6>(points, view) };
        let Some(next) = next else { continue };
        match found.iter_mut().find(|other| are_same(&other.pose, &next.pose)) {
            Some(other) if next.chi2 < other.chi2 => *other = next,
            Some(_) => {}
            None => found.push(next),
        }
    }
    found.sort_by(|a, b| a.chi2.total_cmp(&b.chi2));
    found
}

fn are_same(a: &CameraPose, b: &CameraPose) -> bool {
    angle_between(&a.turn(), &b.turn()) < SAME_RAD
}

/// Sum of squared residuals, px²; `None` with a point behind the camera.
fn squares(points: &[Sighted], view: &View) -> Option<f64> {
    points.iter().map(|point| Some((residual(point, view)?).norm_squared())).sum()
}

fn residual(point: &Sighted, view: &View) -> Option<Vector2<f64>> {
    let stored = view.lens.distort(ideal_of(&view.lens, &in_camera(point, &view.pose))?);
    Some(Vector2::new(point.seen.x - stored.x, point.seen.y - stored.y))
}

fn in_camera(point: &Sighted, pose: &CameraPose) -> Vector3<f64> {
    pose.turn() * (point.at - vector(pose.centre))
}

fn one<const N: usize>(points: &[Sighted], view: View) -> Option<Refined>
where
    Const<N>: DimMin<Const<N>, Output = Const<N>>,
{
    let found: Settled<View, N> =
        settled(view, |view, weights_at| equations::<N>(points, view, weights_at), moved)?;
    let View { lens, pose } = found.at;
    let mut by_lens = SMatrix::<f64, N, 9>::zeros();
    let mut residuals = Vec::with_capacity(points.len());
    for point in points {
        let at = in_camera(point, &pose);
        let weight = weight(point, &found.at)?;
        let slopes = slopes::<N>(point, &found.at)?;
        by_lens -= slopes.transpose() * weight * stored_by_lens(&lens, at.x / at.z, at.y / at.z);
        let away = residual(point, &found.at)?;
        // A mark may lie where only the folded part of the lens model puts it.
        lens.holds(ideal_of(&lens, &at)?).then_some(())?;
        residuals.push((point.index, away, away.dot(&(weight * away))));
    }
    let by_lens = found.cov * by_lens;
    Some(Refined {
        lens,
        pose,
        cov: found.cov.fixed_view::<6, 6>(0, 0).into_owned(),
        by_lens: by_lens.fixed_rows::<6>(0).into_owned(),
        focal_relative_u: (N == 7).then(|| found.cov[(N - 1, N - 1)].sqrt()),
        chi2: found.chi2,
        residuals,
    })
}

fn moved<const N: usize>(view: &View, step: &SVector<f64, N>) -> View {
    let by = std::array::from_fn(|k| step[k]);
    let mut lens = view.lens;
    if N == 7 {
        // By its logarithm: a focal length stays positive.
        let factor = step[N - 1].clamp(-1.0, 1.0).exp();
        (lens.fx_px, lens.fy_px) = (lens.fx_px * factor, lens.fy_px * factor);
    }
    View { lens, pose: view.pose.moved(&by) }
}

fn equations<const N: usize>(points: &[Sighted], view: &View, weights_at: &View) -> Option<Equations<N>> {
    let mut sum = Equations::none();
    for point in points {
        sum.add(&residual(point, view)?, &weight(point, weights_at)?, &slopes::<N>(point, view)?);
    }
    Some(sum)
}

/// Inverse covariance of a mark and of its surveyed place as seen.
fn weight(point: &Sighted, view: &View) -> Option<Matrix2<f64>> {
    let (by_point, _) = stored_by_point_and_pose(&view.lens, &view.pose, &point.at)?;
    (point.seen_cov + by_point * point.at_cov * by_point.transpose()).try_inverse()
}

/// Partial derivatives of the stored pixel by turns about the camera's axes, its centre, and the focal length's logarithm.
fn slopes<const N: usize>(point: &Sighted, view: &View) -> Option<SMatrix<f64, 2, N>> {
    let (_, by_pose) = stored_by_point_and_pose(&view.lens, &view.pose, &point.at)?;
    let mut slopes = SMatrix::<f64, 2, N>::zeros();
    slopes.fixed_columns_mut::<6>(0).copy_from(&by_pose);
    if N == 7 {
        let PixelPoint { x, y } = view.lens.distort(ideal_of(&view.lens, &in_camera(point, &view.pose))?);
        slopes[(0, N - 1)] = x - view.lens.cx_px;
        slopes[(1, N - 1)] = y - view.lens.cy_px;
    }
    Some(slopes)
}
