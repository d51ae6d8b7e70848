//! The picture of a target's rim: a middle and a map from the unit disc, fitted to places on the rim.

use filmgauge_quantities::PixelPoint;
use nalgebra::{Matrix2, SMatrix, SVector, SymmetricEigen};

/// Rounds of the fit; after each, places weigh less the further off they are.
const ROUNDS: usize = 4;
/// Distance at which a place weighs a quarter, of the radius; those within [`FAR`] times that count as on the rim.
const NEAR_SHARE: f64 = 0.03;
const FAR: f64 = 2.5;
/// Starts from six places each.
const N_STARTS: usize = 30;
/// Fewest places that carry an ellipse.
const FEWEST: usize = 12;

/// An ellipse as the picture of the unit circle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ellipse {
    pub(super) centre: PixelPoint,
    /// From the unit disc to offsets from the centre, px.
    pub(super) map: Matrix2<f64>,
}

/// How well places lie on the ellipse that was fitted to them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Quality {
    /// Root mean square distance of the places kept, as a share of the radius.
    pub(super) residual: f64,
    /// Places kept, of all rays that were cast.
    pub(super) share: f64,
}

impl Ellipse {
    pub(super) fn circle(centre: PixelPoint, radius_px: f64) -> Self {
        Self { centre, map: Matrix2::identity() * radius_px }
    }

    /// Where a place of the unit disc lies in the picture.
    pub(super) fn at(&self, u: f64, v: f64) -> PixelPoint {
        let m = &self.map;
        self.centre.moved(m.m11 * u + m.m12 * v, m.m21 * u + m.m22 * v)
    }

    /// Longest and shortest radius, px, and the direction of the shortest as a unit vector.
    pub(super) fn axes(&self) -> (f64, f64, (f64, f64)) {
        let eigen = SymmetricEigen::new(self.map * self.map.transpose());
        let low = usize::from(eigen.eigenvalues[1] < eigen.eigenvalues[0]);
        let radius = |i: usize| eigen.eigenvalues[i].max(0.0).sqrt();
        let direction = (eigen.eigenvectors[(0, low)], eigen.eigenvectors[(1, low)]);
        (radius(1 - low), radius(low), direction)
    }

    /// The ellipse through places of this one's disc, one for each ray that met a rim, nearest to all but the worst.
    pub(super) fn refitted(&self, points: &[[f64; 2]], n_rays: usize) -> Option<(Self, Quality)> {
        if points.len() < FEWEST {
            return None;
        }
        let mut weights = first_weights(points)?;
        let mut fitted = None;
        for _ in 0..ROUNDS {
            let (middle, map) = conic(points, &weights)?;
            let offs = distances(points, middle, &map)?;
            weights = offs.iter().map(|off| (1.0 + (off / NEAR_SHARE).powi(2)).recip().powi(2)).collect();
            let near: Vec<f64> = offs.into_iter().filter(|&off| off <= FAR * NEAR_SHARE).collect();
            let n = near.len().max(1) as f64;
            let squares: f64 = near.iter().map(|off| off * off).sum();
            let quality =
                Quality { residual: (squares / n).sqrt(), share: near.len() as f64 / n_rays as f64 };
            fitted = Some((Self { centre: self.at(middle[0], middle[1]), map: self.map * map }, quality));
        }
        fitted
    }
}

/// Distances of places from an ellipse, as shares of its radius.
fn distances(points: &[[f64; 2]], middle: [f64; 2], map: &Matrix2<f64>) -> Option<Vec<f64>> {
    let back = map.try_inverse()?;
    let off = |point: &[f64; 2]| {
        let at = back * nalgebra::Vector2::new(point[0] - middle[0], point[1] - middle[1]);
        (at.norm() - 1.0).abs()
    };
    Some(points.iter().map(off).collect())
}

/// Weights from the ellipse that most places lie near: through all of them, or through six in turn.
fn first_weights(points: &[[f64; 2]]) -> Option<Vec<f64>> {
    let n = points.len();
    let near = |offs: &[f64]| offs.iter().filter(|&&off| off <= FAR * NEAR_SHARE).count();
    let through = |chosen: Vec<f64>| {
        let (middle, map) = conic(points, &chosen)?;
        distances(points, middle, &map)
    };
    let mut best = through(vec![1.0; n]);
    // Nearly all lie on it already, or a start from a few may do better.
    if best.as_ref().is_none_or(|offs| 10 * near(offs) < 9 * n) {
        for k in 0..N_STARTS {
            let mut chosen = vec![1e-9; n];
            (0..6).for_each(|j| chosen[(k * 5 + j * n / 6 + (k * j * 3) % 7) % n] = 1.0);
            let offs = through(chosen);
            if offs.as_ref().map(|offs| near(offs)) > best.as_ref().map(|offs| near(offs)) {
                best = offs;
            }
        }
    }
    Some(best?.iter().map(|off| (1.0 + (off / NEAR_SHARE).powi(2)).recip().powi(2)).collect())
}

/// Middle and symmetric map of the conic `a x² + b x y + c y² + d x + e y = 1` through places, by least squares.
fn conic(points: &[[f64; 2]], weights: &[f64]) -> Option<([f64; 2], Matrix2<f64>)> {
    let mut normal = SMatrix::<f64, 5, 5>::zeros();
    let mut rhs = SVector::<f64, 5>::zeros();
    for (&[x, y], &weight) in points.iter().zip(weights) {
        let row = SVector::<f64, 5>::from([x * x, x * y, y * y, x, y]);
        normal += weight * row * row.transpose();
        rhs += weight * row;
    }
    let [a, b, c, d, e] = normal.cholesky()?.solve(&rhs).data.0[0];
    let determinant = 4.0 * a * c - b * b;
    if determinant <= 1e-9 || a <= 0.0 {
        return None;
    }
    let middle = [(b * e - 2.0 * c * d) / determinant, (b * d - 2.0 * a * e) / determinant];
    let level = 1.0 - (d * middle[0] + e * middle[1]) / 2.0;
    if level <= 0.0 {
        return None;
    }
    let shape = SymmetricEigen::new(Matrix2::new(a, b / 2.0, b / 2.0, c) / level);
    if shape.eigenvalues.min() <= 1e-6 {
        return None;
    }
    let radii = shape.eigenvalues.map(|value| 1.0 / value.sqrt());
    Some((middle, shape.eigenvectors * Matrix2::from_diagonal(&radii) * shape.eigenvectors.transpose()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn a_slanted_rim_is_recovered_though_a_quarter_of_its_places_are_wrong() {
        let points: Vec<[f64; 2]> = (0..48)
            .map(|k| {
                let (sin, cos) = (TAU * f64::from(k) / 48.0).sin_cos();
                let stray = if k % 12 < 3 { 1.5 } else { 1.0 };
                [0.1 + 1.2 * stray * cos, -0.05 + 0.85 * stray * sin]
            })
            .collect();
        let start = Ellipse::circle(PixelPoint::new(100.0, 50.0), 10.0);
        let (ellipse, quality) = start.refitted(&points, 48).unwrap();
        let (long, short, direction) = ellipse.axes();
        assert!((long - 12.0).abs() < 0.2 && (short - 8.5).abs() < 0.2, "{long} {short}");
        assert!(ellipse.centre.distance(PixelPoint::new(101.0, 49.5)) < 0.2 && direction.1.abs() > 0.98);
        assert!(quality.share > 0.7 && quality.residual < 0.03);
    }
}
