//! First guesses for the bundle: focal lengths and principal point from homographies (Zhang 2000, IEEE Transactions on
//! Pattern Analysis and Machine Intelligence 22:1330-1334, section 3.1), and each view's pose from its own.

use super::pose::Pose;
use crate::Lens;
use crate::rigid::nearest_rotation;
use nalgebra::{DMatrix, Matrix3, SMatrix, SVector, SymmetricEigen, Vector3};

/// Focal lengths that are tried where the views give none, in picture widths.
const GUESSED_FOCALS: [f64; 4] = [1.0, 2.0, 4.0, 8.0];
/// Focal lengths that a start may have, in picture widths.
const USABLE_FOCALS: std::ops::RangeInclusive<f64> = 0.1..=100.0;

/// Lenses to begin the bundle from, the likeliest first; never empty.
pub(super) fn lenses(maps: &[Matrix3<f64>], size_px: (u32, u32)) -> Vec<Lens> {
    let (width, height) = (f64::from(size_px.0), f64::from(size_px.1));
    let (cx, cy) = ((width - 1.0) / 2.0, (height - 1.0) / 2.0);
    // Pixels in picture widths about the middle keep the systems well scaled.
    let to_unit = Matrix3::new(1.0 / width, 0.0, -cx / width, 0.0, 1.0 / width, -cy / width, 0.0, 0.0, 1.0);
    let maps: Vec<Matrix3<f64>> = maps.iter().map(|map| to_unit * map).collect();
    let in_px = |[fx, fy, x, y]: [f64; 4]| Lens {
        fx_px: fx * width,
        fy_px: fy * width,
        ..Lens::pinhole(width, x * width + cx, y * width + cy)
    };
    let is_usable = |values: &[f64; 4]| {
        USABLE_FOCALS.contains(&values[0])
            && USABLE_FOCALS.contains(&values[1])
            && (0.5..2.0).contains(&(values[0] / values[1]))
            && values[2].abs() < 1.0
            && values[3].abs() < 1.0
    };
    let measured = [free_centre(&maps), middle_centre(&maps)];
    let measured = measured.into_iter().flatten().filter(is_usable);
    measured.chain(GUESSED_FOCALS.map(|f| [f, f, 0.0, 0.0])).map(in_px).collect()
}

/// fx, fy, cx, cy from all views, without skew.
fn free_centre(maps: &[Matrix3<f64>]) -> Option<[f64; 4]> {
    let mut normal = SMatrix::<f64, 5, 5>::zeros();
    for map in maps {
        let v = |i: usize, j: usize| {
            let (a, b) = (map.column(i), map.column(j));
            SVector::<f64, 5>::new(
                a[0] * b[0],
                a[1] * b[1],
                a[2] * b[0] + a[0] * b[2],
                a[2] * b[1] + a[1] * b[2],
                a[2] * b[2],
            )
        };
        for row in [v(0, 1), v(0, 0) - v(1, 1)] {
            normal += row * row.transpose();
        }
    }
    let eigen = SymmetricEigen::new(normal);
    let b = eigen.eigenvectors.column(eigen.eigenvalues.imin()).into_owned();
    let (cx, cy) = (-b[2] / b[0], -b[3] / b[1]);
    let scale = b[4] - b[2] * b[2] / b[0] - b[3] * b[3] / b[1];
    let (fx2, fy2) = (scale / b[0], scale / b[1]);
    (fx2 > 0.0 && fy2 > 0.0 && cx.is_finite() && cy.is_finite()).then(|| [fx2.sqrt(), fy2.sqrt(), cx, cy])
}

/// fx and fy with the principal point in the middle of the picture.
fn middle_centre(maps: &[Matrix3<f64>]) -> Option<[f64; 4]> {
    let mut rows = Vec::new();
    let mut right = Vec::new();
    for map in maps {
        let (a, b) = (map.column(0), map.column(1));
        rows.extend([a[0] * b[0], a[1] * b[1]]);
        right.push(-a[2] * b[2]);
        rows.extend([a[0] * a[0] - b[0] * b[0], a[1] * a[1] - b[1] * b[1]]);
        right.push(b[2] * b[2] - a[2] * a[2]);
    }
    let left = DMatrix::from_row_slice(right.len(), 2, &rows);
    let right = nalgebra::DVector::from_vec(right);
    let solved = left.svd(true, true).solve(&right, 1e-12).ok()?;
    (solved[0] > 0.0 && solved[1] > 0.0).then(|| [1.0 / solved[0].sqrt(), 1.0 / solved[1].sqrt(), 0.0, 0.0])
}

/// Pose of the grid in a view, from its homography and a lens (distortion apart); `None` where it is no rotation.
pub(super) fn pose(map: &Matrix3<f64>, lens: &Lens) -> Option<Pose> {
    let inverse = Matrix3::new(
        1.0 / lens.fx_px,
        0.0,
        -lens.cx_px / lens.fx_px,
        0.0,
        1.0 / lens.fy_px,
        -lens.cy_px / lens.fy_px,
        0.0,
        0.0,
        1.0,
    );
    let m = inverse * map;
    let (a, b, t) = (m.column(0).into_owned(), m.column(1).into_owned(), m.column(2).into_owned());
    let mut scale = 2.0 / (a.norm() + b.norm());
    if t.z * scale < 0.0 {
        scale = -scale;
    }
    let (a, b) = (a * scale, b * scale);
    let turn = nearest_rotation(&Matrix3::from_columns(&[a, b, a.cross(&b)]))?;
    let at: Vector3<f64> = t * scale;
    at.iter().all(|value| value.is_finite()).then_some(Pose { turn, at })
}
