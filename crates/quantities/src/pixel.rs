//! Points in the stored image and their covariance, in pixels.

use serde::{Deserialize, Serialize};

/// A point in the stored image; (0, 0) is the centre of the top-left pixel, x right, y down.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct PixelPoint {
    /// To the right, px.
    pub x: f64,
    /// Downwards, px.
    pub y: f64,
}

impl PixelPoint {
    /// The point (x, y).
    #[must_use]
    pub fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Distance to another point, px.
    #[must_use]
    pub fn distance(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// The point moved by (dx, dy) px.
    #[must_use]
    pub fn moved(self, dx: f64, dy: f64) -> Self {
        Self { x: self.x + dx, y: self.y + dy }
    }
}

/// Covariance of a point in the image, px².
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct PixelCov {
    /// Variance along x.
    pub xx: f64,
    /// Covariance of x and y.
    pub xy: f64,
    /// Variance along y.
    pub yy: f64,
}

impl PixelCov {
    /// The same standard uncertainty `u_px` along every direction.
    #[must_use]
    pub fn round(u_px: f64) -> Self {
        Self { xx: u_px * u_px, xy: 0.0, yy: u_px * u_px }
    }

    /// Correlation coefficient of x and y; 0 where a variance is 0.
    #[must_use]
    pub fn correlation(&self) -> f64 {
        let product = (self.xx * self.yy).sqrt();
        if product > 0.0 { self.xy / product } else { 0.0 }
    }

    /// The covariance after a map with these slopes: `slopes[i][j]` of the i-th new coordinate by the j-th old one.
    #[must_use]
    pub fn carried(&self, [x, y]: [[f64; 2]; 2]) -> Self {
        let product = |a: [f64; 2], b: [f64; 2]| {
            a[0] * b[0] * self.xx + (a[0] * b[1] + a[1] * b[0]) * self.xy + a[1] * b[1] * self.yy
        };
        Self { xx: product(x, x), xy: product(x, y), yy: product(y, y) }
    }

    /// Squared Mahalanobis length of the offset (dx, dy); `None` when the covariance is singular.
    /// For a normal error it follows χ² with 2 degrees of freedom: below 5.991 in 95 % of cases.
    #[must_use]
    pub fn mahalanobis2(&self, dx: f64, dy: f64) -> Option<f64> {
        let det = self.xx * self.yy - self.xy * self.xy;
        (det > 0.0).then(|| (self.yy * dx * dx - 2.0 * self.xy * dx * dy + self.xx * dy * dy) / det)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quarter_turn_exchanges_the_variances_and_turns_the_correlation() {
        let cov = PixelCov { xx: 4.0, xy: 1.0, yy: 2.0 };
        assert_eq!(cov.carried([[0.0, -1.0], [1.0, 0.0]]), PixelCov { xx: 2.0, xy: -1.0, yy: 4.0 });
        assert_eq!(cov.carried([[3.0, 0.0], [0.0, 1.0]]), PixelCov { xx: 36.0, xy: 3.0, yy: 2.0 });
    }

    #[test]
    fn mahalanobis_of_a_round_covariance_is_scaled_distance() {
        let cov = PixelCov::round(0.5);
        assert!((cov.mahalanobis2(3.0, 4.0).unwrap() - 100.0).abs() < 1e-12);
        assert!(PixelCov::default().mahalanobis2(1.0, 0.0).is_none());
    }
}
