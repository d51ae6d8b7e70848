//! Points in space and their covariance, in metres.

use serde::{Deserialize, Serialize};

/// A point in space: x along the path towards the struck vehicle, y to its left, z up.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct SpacePoint {
    /// Along the path, m.
    pub x_m: f64,
    /// To the left of the path, m.
    pub y_m: f64,
    /// Upwards, m.
    pub z_m: f64,
}

impl SpacePoint {
    /// The point (x, y, z), metres.
    #[must_use]
    pub fn new(x_m: f64, y_m: f64, z_m: f64) -> Self {
        Self { x_m, y_m, z_m }
    }

    /// x, y and z, m.
    #[must_use]
    pub fn xyz(self) -> [f64; 3] {
        [self.x_m, self.y_m, self.z_m]
    }

    /// Distance to another point, m.
    #[must_use]
    pub fn distance(self, other: Self) -> f64 {
        (self.x_m - other.x_m).hypot(self.y_m - other.y_m).hypot(self.z_m - other.z_m)
    }
}

/// Covariance of a point in space, m²; rows and columns x, y, z.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct SpaceCov(pub [[f64; 3]; 3]);

impl SpaceCov {
    /// The same standard uncertainty `u_m` along every direction.
    #[must_use]
    pub fn round(u_m: f64) -> Self {
        let u2 = u_m * u_m;
        Self([[u2, 0.0, 0.0], [0.0, u2, 0.0], [0.0, 0.0, u2]])
    }

    /// Standard uncertainty along each axis, m.
    #[must_use]
    pub fn u_m(&self) -> [f64; 3] {
        [0, 1, 2].map(|axis| self.0[axis][axis].max(0.0).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distance_and_round_covariance() {
        let far = SpacePoint::new(2.0, 3.0, 6.0);
        assert!((far.distance(SpacePoint::default()) - 7.0).abs() < 1e-12);
        assert_eq!(SpaceCov::round(0.5).u_m(), [0.5; 3]);
    }
}
