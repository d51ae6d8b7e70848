//! Turns and shifts in space: the closed form between two sets of points.

use filmgauge_quantities::SpacePoint;
use nalgebra::{Matrix3, Rotation3, Vector3};

pub(crate) fn vector(at: SpacePoint) -> Vector3<f64> {
    Vector3::from(at.xyz())
}

pub(crate) fn point(at: Vector3<f64>) -> SpacePoint {
    SpacePoint::new(at.x, at.y, at.z)
}

/// a × b as a matrix on b.
pub(crate) fn cross(a: &Vector3<f64>) -> Matrix3<f64> {
    a.cross_matrix()
}

/// The rotation nearest to a matrix; `None` for one that is not a number.
pub(crate) fn nearest_rotation(matrix: &Matrix3<f64>) -> Option<Rotation3<f64>> {
    if !matrix.iter().all(|value| value.is_finite()) {
        return None;
    }
    let svd = matrix.svd(true, true);
    let (u, v_t) = (svd.u?, svd.v_t?);
    let side = (u * v_t).determinant().signum();
    Some(Rotation3::from_matrix_unchecked(u * Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, side)) * v_t))
}

/// Turn and shift that carry the first points onto the second ones, least squares, all pairs alike (Kabsch 1976, Acta Cryst.
/// A32:922). Three pairs or more, not on one line.
pub(crate) fn turn_and_shift(
    pairs: &[(Vector3<f64>, Vector3<f64>)],
) -> Option<(Rotation3<f64>, Vector3<f64>)> {
    let share = 1.0 / pairs.len().max(1) as f64;
    let (from, to) = pairs.iter().fold((Vector3::zeros(), Vector3::zeros()), |sum, pair| {
        (sum.0 + pair.0 * share, sum.1 + pair.1 * share)
    });
    let product: Matrix3<f64> =
        pairs.iter().map(|(a, b)| (b - to) * (a - from).transpose()).fold(Matrix3::zeros(), |a, b| a + b);
    let turn = nearest_rotation(&product)?;
    Some((turn, to - turn * from))
}

/// Angle between two rotations, rad; true down to the smallest, where the trace tells nothing.
pub(crate) fn angle_between(a: &Rotation3<f64>, b: &Rotation3<f64>) -> f64 {
    2.0 * ((a.matrix() - b.matrix()).norm() / 8.0_f64.sqrt()).min(1.0).asin()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_known_turn_and_shift_come_back() {
        let turn = Rotation3::new(Vector3::new(0.3, -1.2, 2.0));
        let shift = Vector3::new(4.0, -1.0, 0.5);
        let places = [[0.0, 0.0, 0.0], [1.0, 0.2, 0.0], [0.1, 2.0, 0.3], [0.4, 0.3, -1.0]].map(Vector3::from);
        for n in [3, 4] {
            let pairs: Vec<_> = places[..n].iter().map(|at| (*at, turn * at + shift)).collect();
            let (found, moved) = turn_and_shift(&pairs).unwrap();
            assert!(angle_between(&found, &turn) < 1e-12 && (moved - shift).norm() < 1e-12);
        }
    }
}
