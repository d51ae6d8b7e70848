//! Lens distortion after Brown and Conrady in OpenCV's convention: ideal pixels to stored pixels and back.

use crate::GeometryError;
use filmgauge_quantities::{PixelCov, PixelPoint};
use serde::{Deserialize, Serialize};

/// Newton steps allowed; from the stored point a usable lens needs fewer than ten.
const MAX_STEPS: usize = 50;
/// Residual at which the inverse counts as found, px.
const INVERSE_TOLERANCE_PX: f64 = 1e-9;

/// Focal lengths, principal point and distortion of one camera, for stored pixels.
///
/// With x, y the ideal point divided by the focal lengths and r² = x² + y², the stored point is
/// x (1 + k1 r² + k2 r⁴ + k3 r⁶) + 2 p1 x y + p2 (r² + 2 x²), y likewise with p1 and p2 exchanged
/// (Brown 1971, Photogrammetric Engineering 37:855, in the parameter order of OpenCV's camera model).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Lens {
    /// Focal length along the rows, px; positive.
    pub fx_px: f64,
    /// Focal length along the columns, px; positive.
    pub fy_px: f64,
    /// Column of the principal point, px.
    pub cx_px: f64,
    /// Row of the principal point, px.
    pub cy_px: f64,
    /// Radial term of second order.
    pub k1: f64,
    /// Radial term of fourth order.
    pub k2: f64,
    /// Radial term of sixth order.
    pub k3: f64,
    /// First decentring term.
    pub p1: f64,
    /// Second decentring term.
    pub p2: f64,
}

impl Lens {
    /// A lens without distortion: focal length and principal point in px.
    #[must_use]
    pub fn pinhole(f_px: f64, cx_px: f64, cy_px: f64) -> Self {
        Self { fx_px: f_px, fy_px: f_px, cx_px, cy_px, k1: 0.0, k2: 0.0, k3: 0.0, p1: 0.0, p2: 0.0 }
    }

    /// The stored pixel of an ideal pixel. Meaningful inside [`Lens::holds`] only: beyond it the model folds back.
    #[must_use]
    pub fn distort(&self, ideal: PixelPoint) -> PixelPoint {
        let (x, y) = self.normalised(ideal);
        let [xd, yd] = self.bent(x, y);
        PixelPoint::new(self.fx_px * xd + self.cx_px, self.fy_px * yd + self.cy_px)
    }

    /// The ideal pixel of a stored pixel, by Newton's method to 1e-9 px.
    ///
    /// # Errors
    /// [`GeometryError::OutsideLensField`] where the model has no inverse: outside the field in which
    /// the stored radius grows with the ideal one, or at a point that is not finite.
    pub fn undistort(&self, stored: PixelPoint) -> Result<PixelPoint, GeometryError> {
        let outside = || GeometryError::OutsideLensField { x_px: stored.x, y_px: stored.y };
        let mut ideal = stored;
        for _ in 0..MAX_STEPS {
            let image = self.distort(ideal);
            let (dx, dy) = (stored.x - image.x, stored.y - image.y);
            let found = dx.hypot(dy) <= INVERSE_TOLERANCE_PX;
            let inverse = inverted(self.distort_jacobian(ideal)).ok_or_else(outside)?;
            let step_x = inverse[0][0] * dx + inverse[0][1] * dy;
            let step_y = inverse[1][0] * dx + inverse[1][1] * dy;
            ideal = ideal.moved(step_x, step_y);
            if !(ideal.x.is_finite() && ideal.y.is_finite()) {
                return Err(outside());
            }
            if found {
                return if self.holds(ideal) { Ok(ideal) } else { Err(outside()) };
            }
        }
        Err(outside())
    }

    /// Partial derivatives of the ideal pixel by the stored pixel, rows (ideal x, ideal y), columns (stored x, stored y).
    ///
    /// # Errors
    /// As [`Lens::undistort`].
    pub fn undistort_jacobian(&self, stored: PixelPoint) -> Result<[[f64; 2]; 2], GeometryError> {
        let ideal = self.undistort(stored)?;
        inverted(self.distort_jacobian(ideal))
            .ok_or(GeometryError::OutsideLensField { x_px: stored.x, y_px: stored.y })
    }

    /// A stored mark with its covariance as an ideal one.
    ///
    /// # Errors
    /// As [`Lens::undistort`].
    pub fn undistort_mark(
        &self,
        stored: PixelPoint,
        cov: &PixelCov,
    ) -> Result<(PixelPoint, PixelCov), GeometryError> {
        let ideal = self.undistort(stored)?;
        Ok((ideal, cov.carried(self.undistort_jacobian(stored)?)))
    }

    /// An ideal mark with its covariance as a stored one; meaningful where [`Lens::distort`] is.
    #[must_use]
    pub fn distort_mark(&self, ideal: PixelPoint, cov: &PixelCov) -> (PixelPoint, PixelCov) {
        (self.distort(ideal), cov.carried(self.distort_jacobian(ideal)))
    }

    /// Whether the model can be inverted at an ideal pixel: from the principal point out to it, the stored
    /// radius grows with the ideal radius and the map keeps its orientation.
    #[must_use]
    pub fn holds(&self, ideal: PixelPoint) -> bool {
        let (x, y) = self.normalised(ideal);
        let jacobian = self.distort_jacobian(ideal);
        let det = jacobian[0][0] * jacobian[1][1] - jacobian[0][1] * jacobian[1][0];
        det > 0.0 && self.least_radial_slope(x * x + y * y) > 0.0
    }

    /// Partial derivatives of the stored pixel by the ideal pixel.
    pub(crate) fn distort_jacobian(&self, ideal: PixelPoint) -> [[f64; 2]; 2] {
        let (x, y) = self.normalised(ideal);
        let r2 = x * x + y * y;
        let radial = 1.0 + r2 * (self.k1 + r2 * (self.k2 + r2 * self.k3));
        let slope = 2.0 * (self.k1 + r2 * (2.0 * self.k2 + 3.0 * r2 * self.k3));
        let cross = slope * x * y + 2.0 * self.p1 * x + 2.0 * self.p2 * y;
        let xx = radial + slope * x * x + 2.0 * self.p1 * y + 6.0 * self.p2 * x;
        let yy = radial + slope * y * y + 6.0 * self.p1 * y + 2.0 * self.p2 * x;
        [[xx, cross * self.fx_px / self.fy_px], [cross * self.fy_px / self.fx_px, yy]]
    }

    /// Where the ray (x, y, 1) is stored, in focal lengths from the principal point.
    pub(crate) fn bent(&self, x: f64, y: f64) -> [f64; 2] {
        let r2 = x * x + y * y;
        let radial = 1.0 + r2 * (self.k1 + r2 * (self.k2 + r2 * self.k3));
        let xd = x * radial + 2.0 * self.p1 * x * y + self.p2 * (r2 + 2.0 * x * x);
        let yd = y * radial + self.p1 * (r2 + 2.0 * y * y) + 2.0 * self.p2 * x * y;
        [xd, yd]
    }

    pub(crate) fn normalised(&self, ideal: PixelPoint) -> (f64, f64) {
        ((ideal.x - self.cx_px) / self.fx_px, (ideal.y - self.cy_px) / self.fy_px)
    }

    /// Least value of d(stored radius)/d(ideal radius) for squared radii from 0 to `r2`, by the radial terms.
    fn least_radial_slope(&self, r2: f64) -> f64 {
        let slope_at = |s: f64| 1.0 + s * (3.0 * self.k1 + s * (5.0 * self.k2 + s * 7.0 * self.k3));
        let (a, b, c) = (21.0 * self.k3, 10.0 * self.k2, 3.0 * self.k1);
        let turns = if a == 0.0 {
            [-c / b, -c / b]
        } else {
            let root = (b * b - 4.0 * a * c).sqrt();
            [(-b + root) / (2.0 * a), (-b - root) / (2.0 * a)]
        };
        let inner = turns.into_iter().filter(|s| (0.0..r2).contains(s)).map(slope_at);
        inner.fold(slope_at(r2).min(1.0), f64::min)
    }
}

fn inverted(m: [[f64; 2]; 2]) -> Option<[[f64; 2]; 2]> {
    let det = m[0][0] * m[1][1] - m[0][1] * m[1][0];
    (det.abs() > 1e-12).then(|| [[m[1][1] / det, -m[0][1] / det], [-m[1][0] / det, m[0][0] / det]])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lens() -> Lens {
        Lens {
            k1: -0.265_09,
            k2: -0.046_74,
            k3: 0.252_31,
            p1: 0.001_83,
            p2: -0.000_31,
            fy_px: 536.016,
            ..Lens::pinhole(536.073, 342.37, 235.537)
        }
    }

    proptest::proptest! {
        #[test]
        fn undistort_inverts_distort(x in 0.0_f64..640.0, y in 0.0_f64..480.0) {
            let ideal = lens().undistort(PixelPoint::new(x, y)).unwrap();
            proptest::prop_assert!(lens().distort(ideal).distance(PixelPoint::new(x, y)) < 1e-9);
        }

        #[test]
        fn jacobian_agrees_with_differences(x in 20.0_f64..620.0, y in 20.0_f64..460.0) {
            let h = 1e-3;
            let jacobian = lens().undistort_jacobian(PixelPoint::new(x, y)).unwrap();
            let ahead = lens().undistort(PixelPoint::new(x + h, y)).unwrap();
            let behind = lens().undistort(PixelPoint::new(x - h, y)).unwrap();
            proptest::prop_assert!(((ahead.x - behind.x) / (2.0 * h) - jacobian[0][0]).abs() < 1e-6);
            proptest::prop_assert!(((ahead.y - behind.y) / (2.0 * h) - jacobian[1][0]).abs() < 1e-6);
        }
    }

    #[test]
    fn a_barrel_lens_folds_and_says_so() {
        // r (1 - 0.5 r²) is greatest at r = sqrt(2/3), where it is 0.5443: beyond it nothing is stored.
        let barrel = Lens { k1: -0.5, ..Lens::pinhole(1000.0, 0.0, 0.0) };
        assert!(barrel.undistort(PixelPoint::new(540.0, 0.0)).is_ok());
        assert!(barrel.undistort(PixelPoint::new(560.0, 0.0)).is_err());
        assert!(!barrel.holds(PixelPoint::new(900.0, 0.0)));
        assert!(barrel.undistort(PixelPoint::new(f64::NAN, 0.0)).is_err());
    }

    #[test]
    fn radial_check_case() {
        // Computed from the stated formula r_stored = r (1 + k1 r²) with k1 = -0.02, in units of the half field.
        let lens = Lens { k1: -0.02, ..Lens::pinhole(1.0, 0.0, 0.0) };
        for (r, stored) in [(0.25, 0.249_687_5), (0.5, 0.4975), (0.75, 0.741_562_5), (1.0, 0.98)] {
            assert!((lens.distort(PixelPoint::new(r, 0.0)).x - stored).abs() < 1e-12);
        }
    }
}
