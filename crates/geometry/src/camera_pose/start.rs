//! First poses from a few points: in closed form, without a guess.

use super::Sighted;
use crate::camera::CameraPose;
use crate::layout::map::{Form, ViewMap};
use crate::rigid::{nearest_rotation, turn_and_shift};
use filmgauge_quantities::{PixelPoint, PlanePoint};
use nalgebra::{DMatrix, Matrix2, Matrix3, Rotation3, SMatrix, Vector2, Vector3};

/// Sets of three points from which poses are taken, widest first.
const MOST_SETS: usize = 6;
/// Points among which those sets are sought.
const MOST_POINTS: usize = 24;

/// The middle of the points, their main directions by falling extent (columns) and the root mean square extents, m.
pub(super) struct Extent {
    pub(super) middle: Vector3<f64>,
    pub(super) axes: Matrix3<f64>,
    pub(super) spread_m: [f64; 3],
}

impl Extent {
    pub(super) fn of(points: &[Sighted]) -> Self {
        let share = 1.0 / points.len().max(1) as f64;
        let middle = points.iter().fold(Vector3::zeros(), |sum, point| sum + point.at * share);
        let square = points.iter().fold(Matrix3::zeros(), |sum, point| {
            let arm = point.at - middle;
            sum + arm * arm.transpose() * share
        });
        let own = square.symmetric_eigen();
        let mut order = [0, 1, 2];
        order.sort_by(|&a, &b| own.eigenvalues[b].total_cmp(&own.eigenvalues[a]));
        let mut axes = Matrix3::from_fn(|row, column| own.eigenvectors[(row, order[column])]);
        if axes.determinant() < 0.0 {
            axes.column_mut(2).neg_mut();
        }
        Self { middle, axes, spread_m: order.map(|k| own.eigenvalues[k].max(0.0).sqrt()) }
    }
}

/// First poses by every way that the points allow.
pub(super) fn starts(points: &[Sighted], extent: &Extent) -> Vec<CameraPose> {
    let mut found = by_plane(points, extent).unwrap_or_default();
    if points.len() >= 6 {
        found.extend(by_linear_equations(points, extent));
    }
    for set in wide_sets(points) {
        found.extend(by_three(&set.map(|i| &points[i])));
    }
    found
}

fn pose(turn: &Rotation3<f64>, shift: &Vector3<f64>) -> CameraPose {
    CameraPose::new(turn, -(turn.inverse() * shift))
}

/// Both poses of a planar set, from its homography's slopes at the middle (Collins & Bartoli 2014, Int. J. Computer Vision
/// 109:252). Points off the plane are taken to lie in it.
fn by_plane(points: &[Sighted], extent: &Extent) -> Option<Vec<CameraPose>> {
    let flat: Vec<(PlanePoint, PixelPoint)> = points
        .iter()
        .map(|point| {
            let at = extent.axes.transpose() * (point.at - extent.middle);
            (PlanePoint::new(at.x, at.y), PixelPoint::new(point.ray.x, point.ray.y))
        })
        .collect();
    let h = *ViewMap::fitted(Form::Homography, &flat)?.matrix();
    let h = h / h.m33;
    let (p, q) = (h.m13, h.m23);
    let slopes = Matrix2::new(h.m11 - h.m31 * p, h.m12 - h.m32 * p, h.m21 - h.m31 * q, h.m22 - h.m32 * q);
    // Turns the optical axis onto the line of sight of the middle.
    let to_middle = Rotation3::rotation_between(&Vector3::z(), &Vector3::new(p, q, 1.0))?;
    let across = SMatrix::<f64, 2, 3>::new(1.0, 0.0, -p, 0.0, 1.0, -q);
    let b = across * to_middle.matrix().fixed_columns::<2>(0);
    let a = b.try_inverse()? * slopes;
    let upper = a / a.singular_values().max();
    let lower = Matrix2::identity() - upper.transpose() * upper;
    let tilt = Vector2::new(lower.m11.max(0.0).sqrt(), lower.m22.max(0.0).sqrt());
    let tilt = if lower.m12 < 0.0 { Vector2::new(tilt.x, -tilt.y) } else { tilt };
    let solution = |tilt: Vector2<f64>| {
        let x = Vector3::new(upper.m11, upper.m21, tilt.x);
        let y = Vector3::new(upper.m12, upper.m22, tilt.y);
        let turn = to_middle.matrix() * Matrix3::from_columns(&[x, y, x.cross(&y)]);
        let turn = nearest_rotation(&(turn * extent.axes.transpose()))?;
        shift_for(points, &turn).map(|shift| pose(&turn, &shift))
    };
    Some([tilt, -tilt].into_iter().filter_map(solution).collect())
}

/// The shift that goes with a rotation, by linear least squares.
fn shift_for(points: &[Sighted], turn: &Rotation3<f64>) -> Option<Vector3<f64>> {
    let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
    for point in points {
        let turned = turn * point.at;
        let across = SMatrix::<f64, 2, 3>::new(1.0, 0.0, -point.ray.x, 0.0, 1.0, -point.ray.y);
        normal += across.transpose() * across;
        right -= across.transpose() * (across * turned);
    }
    normal.cholesky().map(|root| root.solve(&right))
}

/// Direct linear transformation: the twelve terms of the projection from six points or more.
fn by_linear_equations(points: &[Sighted], extent: &Extent) -> Option<CameraPose> {
    let scale = extent.spread_m[0];
    let mut rows = DMatrix::<f64>::zeros((2 * points.len()).max(12), 12);
    for (i, point) in points.iter().enumerate() {
        let at = (point.at - extent.middle) / scale;
        let place = [at.x, at.y, at.z, 1.0];
        for (k, value) in place.into_iter().enumerate() {
            rows[(2 * i, k)] = value;
            rows[(2 * i, 8 + k)] = -point.ray.x * value;
            rows[(2 * i + 1, 4 + k)] = value;
            rows[(2 * i + 1, 8 + k)] = -point.ray.y * value;
        }
    }
    let v_t = rows.svd(false, true).v_t?;
    let last = v_t.row(v_t.nrows() - 1).into_owned();
    let terms = SMatrix::<f64, 3, 4>::from_fn(|row, column| last[4 * row + column]);
    let turning = terms.fixed_columns::<3>(0).into_owned();
    let side = turning.determinant().signum();
    let turn = nearest_rotation(&(turning * side))?;
    let size = turning.singular_values().mean();
    let shift = terms.column(3) * (side * scale / size);
    let pose = pose(&turn, &(shift - turn * extent.middle));
    pose.camera_from_space.as_flattened().iter().all(|value| value.is_finite()).then_some(pose)
}

/// Sets of three points whose pictures span the largest triangles.
fn wide_sets(points: &[Sighted]) -> Vec<[usize; 3]> {
    let n = points.len();
    let step = n.div_ceil(MOST_POINTS).max(1);
    let chosen: Vec<usize> = (0..n).step_by(step).collect();
    let mut sets: Vec<(f64, [usize; 3])> = Vec::new();
    for (i, &a) in chosen.iter().enumerate() {
        for (j, &b) in chosen.iter().enumerate().skip(i + 1) {
            for &c in &chosen[j + 1..] {
                let ab = points[b].ray - points[a].ray;
                let ac = points[c].ray - points[a].ray;
                sets.push(((ab.x * ac.y - ab.y * ac.x).abs(), [a, b, c]));
            }
        }
    }
    sets.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
    sets.into_iter().take(MOST_SETS).map(|(_, set)| set).collect()
}

/// Up to four poses from three points: Grunert's quartic of 1841 in the form of Haralick, Lee, Ottenberg & Nölle 1994, Int. J.
/// Computer Vision 13:331.
fn by_three(points: &[&Sighted; 3]) -> Vec<CameraPose> {
    let rays = points.map(|point| Vector3::new(point.ray.x, point.ray.y, 1.0).normalize());
    let square = |i: usize, j: usize| (points[i].at - points[j].at).norm_squared();
    let (a2, b2, c2) = (square(1, 2), square(0, 2), square(0, 1));
    let (cos_a, cos_b, cos_c) = (rays[1].dot(&rays[2]), rays[0].dot(&rays[2]), rays[0].dot(&rays[1]));
    let (m, p) = ((a2 - c2) / b2, (a2 + c2) / b2);
    let terms = [
        (1.0 + m).powi(2) - 4.0 * a2 / b2 * cos_c * cos_c,
        4.0 * (-m * (1.0 + m) * cos_b + 2.0 * a2 / b2 * cos_c * cos_c * cos_b - (1.0 - p) * cos_a * cos_c),
        2.0 * (m * m - 1.0 + 2.0 * m * m * cos_b * cos_b + 2.0 * (b2 - c2) / b2 * cos_a * cos_a
            - 4.0 * p * cos_a * cos_b * cos_c
            + 2.0 * (b2 - a2) / b2 * cos_c * cos_c),
        4.0 * (m * (1.0 - m) * cos_b - (1.0 - p) * cos_a * cos_c + 2.0 * c2 / b2 * cos_a * cos_a * cos_b),
        (m - 1.0).powi(2) - 4.0 * c2 / b2 * cos_a * cos_a,
    ];
    let of_root = |v: f64| {
        let u = ((m - 1.0) * v * v - 2.0 * m * cos_b * v + 1.0 + m) / (2.0 * (cos_c - v * cos_a));
        let near = (b2 / (1.0 + v * v - 2.0 * v * cos_b)).sqrt();
        let far = [near, u * near, v * near];
        if !far.iter().all(|d| d.is_finite() && *d > 0.0) {
            return None;
        }
        let pairs = [0, 1, 2].map(|i| (points[i].at, rays[i] * far[i]));
        turn_and_shift(&pairs).map(|(turn, shift)| pose(&turn, &shift))
    };
    real_roots(&terms).into_iter().filter_map(of_root).collect()
}

/// Real roots of a quartic, and the real parts of those that noise has made complex.
fn real_roots(terms: &[f64; 5]) -> Vec<f64> {
    let lead = terms[4];
    if lead.abs() < 1e-14 * terms.iter().fold(0.0_f64, |most, term| most.max(term.abs())) || !lead.is_finite()
    {
        return Vec::new();
    }
    let mut companion = SMatrix::<f64, 4, 4>::zeros();
    for k in 0..4 {
        companion[(k, 3)] = -terms[k] / lead;
        if k > 0 {
            companion[(k, k - 1)] = 1.0;
        }
    }
    if !companion.iter().all(|value| value.is_finite()) {
        return Vec::new();
    }
    let roots = companion.complex_eigenvalues();
    roots.iter().filter(|root| root.im.abs() <= 0.1 * root.re.abs()).map(|root| root.re).collect()
}
