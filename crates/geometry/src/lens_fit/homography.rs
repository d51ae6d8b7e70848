//! The map of a flat grid to one picture, by the normalised direct linear transform (Hartley 1997, IEEE Transactions on
//! Pattern Analysis and Machine Intelligence 19:580-593).

use nalgebra::{Matrix3, SMatrix, SymmetricEigen, Vector3};

/// Homography from plane points to picture points, scaled to a last element of 1; `None` for points that fix none.
pub(super) fn homography(plane: &[[f64; 2]], picture: &[[f64; 2]]) -> Option<Matrix3<f64>> {
    if plane.len() != picture.len() || plane.len() < 4 {
        return None;
    }
    let (from, to) = (normalising(plane)?, normalising(picture)?);
    let mut normal = SMatrix::<f64, 9, 9>::zeros();
    for (a, b) in plane.iter().zip(picture) {
        let p = from * Vector3::new(a[0], a[1], 1.0);
        let q = to * Vector3::new(b[0], b[1], 1.0);
        let rows = [
            [p.x, p.y, 1.0, 0.0, 0.0, 0.0, -q.x * p.x, -q.x * p.y, -q.x],
            [0.0, 0.0, 0.0, p.x, p.y, 1.0, -q.y * p.x, -q.y * p.y, -q.y],
        ];
        for row in rows {
            let row = SMatrix::<f64, 1, 9>::from_row_slice(&row);
            normal += row.transpose() * row;
        }
    }
    let eigen = SymmetricEigen::new(normal);
    let h = eigen.eigenvectors.column(eigen.eigenvalues.imin()).into_owned();
    let inner = Matrix3::from_row_slice(h.as_slice());
    let map = to.try_inverse()? * inner * from;
    let last = map[(2, 2)];
    let is_usable = last.abs() > 1e-12 * map.norm() && map.iter().all(|value| value.is_finite());
    is_usable.then(|| map / last)
}

/// The shift and scale that bring points to the mean 0 and the mean distance √2.
fn normalising(points: &[[f64; 2]]) -> Option<Matrix3<f64>> {
    let n = points.len() as f64;
    let sum = points.iter().fold([0.0, 0.0], |sum, p| [sum[0] + p[0], sum[1] + p[1]]);
    let (mx, my) = (sum[0] / n, sum[1] / n);
    let spread = points.iter().map(|p| (p[0] - mx).hypot(p[1] - my)).sum::<f64>() / n;
    // Of one place all points, rounding leaves a spread that is none.
    if !(spread.is_finite() && spread > 1e-9 * (mx.hypot(my) + f64::MIN_POSITIVE)) {
        return None;
    }
    let s = std::f64::consts::SQRT_2 / spread;
    Some(Matrix3::new(s, 0.0, -s * mx, 0.0, s, -s * my, 0.0, 0.0, 1.0))
}
