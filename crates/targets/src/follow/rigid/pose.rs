//! Pose of a layout in one frame: the similarity of least squares, weighted by the marks' covariances, with its own.

use filmgauge_quantities::{PixelCov, PixelPoint};
use nalgebra::{Matrix2, Matrix2x4, Matrix4, Vector2, Vector4};

/// Layout → picture: (x, y) ↦ (a x − b y + p, b x + a y + q), with the covariance of (a, b, p, q).
#[derive(Debug, Clone, Copy)]
pub(super) struct Pose {
    terms: Vector4<f64>,
    cov: Matrix4<f64>,
}

impl Pose {
    /// From layout place, picture place and its covariance; `None` for fewer than two distinct places.
    pub(super) fn fit(pairs: impl Iterator<Item = (PixelPoint, PixelPoint, PixelCov)>) -> Option<Self> {
        let mut normal = Matrix4::zeros();
        let mut right = Vector4::zeros();
        for (from, to, cov) in pairs {
            let weight = Matrix2::new(cov.xx, cov.xy, cov.xy, cov.yy).try_inverse()?;
            let rows = rows(from);
            let weighted = rows.transpose() * weight;
            normal += weighted * rows;
            right += weighted * Vector2::new(to.x, to.y);
        }
        // Without two distinct places the matrix is singular, up to rounding.
        let cov = normal.cholesky()?.inverse();
        let terms = cov * right;
        let is_sound = terms.iter().chain(cov.iter()).all(|term| term.is_finite()) && cov[(0, 0)] < 1.0;
        is_sound.then_some(Self { terms, cov })
    }

    /// Picture place of a layout place, with the pose's own covariance there.
    pub(super) fn map(&self, from: PixelPoint) -> (PixelPoint, PixelCov) {
        let rows = rows(from);
        let to = rows * self.terms;
        let cov = rows * self.cov * rows.transpose();
        let cov = PixelCov { xx: cov[(0, 0)], xy: cov[(0, 1)], yy: cov[(1, 1)] };
        (PixelPoint::new(to[0], to[1]), cov)
    }

    /// An offset in the picture as one in the layout.
    pub(super) fn unturn(&self, dx: f64, dy: f64) -> (f64, f64) {
        let (a, b) = (self.terms[0], self.terms[1]);
        let size2 = a * a + b * b;
        ((a * dx + b * dy) / size2, (a * dy - b * dx) / size2)
    }

    /// Layout place of a picture place.
    pub(super) fn unmap(&self, to: PixelPoint) -> PixelPoint {
        let (x, y) = self.unturn(to.x - self.terms[2], to.y - self.terms[3]);
        PixelPoint::new(x, y)
    }

    /// A covariance in the layout as one in the picture.
    pub(super) fn turn_cov(&self, cov: &PixelCov) -> PixelCov {
        congruent(cov, self.terms[0], self.terms[1])
    }

    /// A covariance in the picture as one in the layout.
    pub(super) fn unturn_cov(&self, cov: &PixelCov) -> PixelCov {
        let (a, b) = (self.terms[0], self.terms[1]);
        let size2 = a * a + b * b;
        congruent(cov, a / size2, -b / size2)
    }
}

/// Covariance after the linear map (x, y) ↦ (a x − b y, b x + a y).
fn congruent(cov: &PixelCov, a: f64, b: f64) -> PixelCov {
    let map = Matrix2::new(a, -b, b, a);
    let turned = map * Matrix2::new(cov.xx, cov.xy, cov.xy, cov.yy) * map.transpose();
    PixelCov { xx: turned[(0, 0)], xy: turned[(0, 1)], yy: turned[(1, 1)] }
}

fn rows(from: PixelPoint) -> Matrix2x4<f64> {
    Matrix2x4::new(from.x, -from.y, 1.0, 0.0, from.y, from.x, 0.0, 1.0)
}

/// Sum of two covariances.
pub(super) fn sum(a: &PixelCov, b: &PixelCov) -> PixelCov {
    PixelCov { xx: a.xx + b.xx, xy: a.xy + b.xy, yy: a.yy + b.yy }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hidden_places_doubt_is_that_of_the_formula() {
        // Four targets of equal doubt s: sd at distance d from their middle is s √(1/n + d²/(n ρ²)), for a similarity as
        // for a rigid motion (computed from the formula, docs/methods/follow.md).
        let places =
            [(-60.0, 0.0), (60.0, 0.0), (0.0, 40.0), (0.0, -40.0)].map(|(x, y)| PixelPoint::new(x, y));
        let pairs = places.iter().map(|&p| (p, p.moved(300.0, 200.0), PixelCov::round(0.01)));
        let pose = Pose::fit(pairs).unwrap();
        let rho2 = places.iter().map(|p| p.x * p.x + p.y * p.y).sum::<f64>() / 4.0;
        let (at, cov) = pose.map(PixelPoint::new(30.0, 50.0));
        let formula = 1e-4 * (0.25 + (900.0 + 2500.0) / (4.0 * rho2));
        assert!(at.distance(PixelPoint::new(330.0, 250.0)) < 1e-9);
        assert!(
            (cov.xx - formula).abs() < 1e-9 * formula.max(1.0) && (cov.yy - cov.xx).abs() < 1e-12,
            "{cov:?}"
        );
        assert!(pose.unmap(at).distance(PixelPoint::new(30.0, 50.0)) < 1e-9);
        let there_and_back = pose.turn_cov(&pose.unturn_cov(&cov));
        assert!((there_and_back.xx - cov.xx).abs() < 1e-15);
        let same = std::iter::repeat_n((places[0], places[0], PixelCov::round(0.01)), 3);
        assert!(Pose::fit(same).is_none());
    }
}
