//! The picture of a target's rim: a middle and a map from the unit disc, fitted to places on the rim.

use super::starts::first;
use filmgauge_quantities::PixelPoint;
use nalgebra::Matrix2;

/// Rounds of the fit; after each, places weigh less the further off they are.
const ROUNDS: usize = 4;
/// Distance at which a place weighs a quarter, of the radius; those within [`FAR`] times that count as on the rim.
pub(super) const NEAR_SHARE: f64 = 0.03;
pub(super) const FAR: f64 = 2.5;

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
        let square = self.map * self.map.transpose();
        let (half, apart) = (f64::midpoint(square.m11, square.m22), (square.m11 - square.m22) / 2.0);
        let root = apart.hypot(square.m12);
        let turn = 0.5 * square.m12.atan2(apart);
        ((half + root).sqrt(), (half - root).max(0.0).sqrt(), (-turn.sin(), turn.cos()))
    }

    /// The ellipse through places of this one's disc, one for each ray that met a rim, nearest to all but the worst;
    /// `None` where fewer than `least_share` of the rays meet any.
    pub(super) fn refitted(
        &self,
        points: &[[f64; 2]],
        n_rays: usize,
        least_share: f64,
    ) -> Option<(Self, Quality)> {
        let mut conic = first(points, least_share * n_rays as f64)?;
        let mut offs: Vec<f64> = points.iter().map(|&point| conic.off(point)).collect();
        for _ in 0..ROUNDS {
            let weight = |off: &f64| (1.0 + (off / NEAR_SHARE).powi(2)).recip().powi(2);
            conic = Conic::through(points.iter().copied().zip(offs.iter().map(weight)))?;
            offs = points.iter().map(|&point| conic.off(point)).collect();
        }
        let near = || offs.iter().filter(|&&off| off <= FAR * NEAR_SHARE);
        let n_near = near().count();
        let residual = (near().map(|off| off * off).sum::<f64>() / n_near.max(1) as f64).sqrt();
        let quality = Quality { residual, share: n_near as f64 / n_rays as f64 };
        let [x, y] = conic.middle;
        Some((Self { centre: self.at(x, y), map: self.map * conic.map()? }, quality))
    }
}

/// An ellipse: all places whose form `[xx, xy, yy]` of the offset from the middle is 1.
#[derive(Debug, Clone, Copy)]
pub(super) struct Conic {
    pub(super) middle: [f64; 2],
    pub(super) form: [f64; 3],
}

impl Conic {
    /// `a x² + b x y + c y² + d x + e y = 1` through weighed places by least squares; `None` when it is no ellipse.
    pub(super) fn through(points: impl Iterator<Item = ([f64; 2], f64)>) -> Option<Self> {
        let (mut normal, mut rhs) = ([[0.0; 5]; 5], [0.0; 5]);
        for ([x, y], weight) in points {
            let row = [x * x, x * y, y * y, x, y];
            for i in 0..5 {
                let weighed = weight * row[i];
                rhs[i] += weighed;
                for j in 0..=i {
                    normal[i][j] += weighed * row[j];
                }
            }
        }
        let [a, b, c, d, e] = solved(normal, rhs)?;
        let determinant = 4.0 * a * c - b * b;
        if determinant <= 1e-9 || a <= 0.0 {
            return None;
        }
        let middle = [(b * e - 2.0 * c * d) / determinant, (b * d - 2.0 * a * e) / determinant];
        let level = 1.0 - (d * middle[0] + e * middle[1]) / 2.0;
        (level > 0.0).then(|| Self { middle, form: [a / level, b / level, c / level] })
    }

    /// Squared distance from the middle in radii.
    fn square(&self, [x, y]: [f64; 2]) -> f64 {
        let (x, y) = (x - self.middle[0], y - self.middle[1]);
        let [a, b, c] = self.form;
        a * x * x + b * x * y + c * y * y
    }

    /// Distance of a place from the ellipse, as a share of its radius.
    fn off(&self, point: [f64; 2]) -> f64 {
        (self.square(point).sqrt() - 1.0).abs()
    }

    /// Symmetric map from the unit disc: the inverse root of the form's matrix, in closed form; `None` when too long.
    fn map(&self) -> Option<Matrix2<f64>> {
        let [a, b, c] = self.form;
        let root = (a * c - b * b / 4.0).max(0.0).sqrt();
        let sum = (a + c + 2.0 * root).sqrt();
        let map = Matrix2::new(c + root, -b / 2.0, -b / 2.0, a + root) / (root * sum);
        // The longest radius stays below a thousand.
        (root > 0.0 && map.norm() < 1e3).then_some(map)
    }
}

/// Solution of symmetric equations, of which the lower triangle is read, by Cholesky's square root; `None` when they fix
/// nothing.
fn solved(mut matrix: [[f64; 5]; 5], mut rhs: [f64; 5]) -> Option<[f64; 5]> {
    for i in 0..5 {
        for j in 0..=i {
            let sum = matrix[i][j] - (0..j).map(|k| matrix[i][k] * matrix[j][k]).sum::<f64>();
            if i > j {
                matrix[i][j] = sum / matrix[j][j];
            } else if sum > 0.0 {
                matrix[i][i] = sum.sqrt();
            } else {
                return None;
            }
        }
        rhs[i] = (rhs[i] - (0..i).map(|k| matrix[i][k] * rhs[k]).sum::<f64>()) / matrix[i][i];
    }
    for i in (0..5).rev() {
        rhs[i] = (rhs[i] - (i + 1..5).map(|k| matrix[k][i] * rhs[k]).sum::<f64>()) / matrix[i][i];
    }
    Some(rhs)
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
        let (ellipse, quality) = start.refitted(&points, 48, 0.5).unwrap();
        let (long, short, direction) = ellipse.axes();
        assert!((long - 12.0).abs() < 0.2 && (short - 8.5).abs() < 0.2, "{long} {short}");
        assert!(ellipse.centre.distance(PixelPoint::new(101.0, 49.5)) < 0.2 && direction.1.abs() > 0.98);
        assert!(quality.share > 0.7 && quality.residual < 0.03);
    }
}
