//! Points in the plane of motion and their covariance, in metres.

use serde::{Deserialize, Serialize};

/// A point in a camera's plane of motion.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct PlanePoint {
    /// Along the path towards the struck vehicle, m.
    pub x_m: f64,
    /// Second axis, m: up for a side camera, to the left of the path for an overhead camera.
    pub z_m: f64,
}

impl PlanePoint {
    /// The point (x, z), metres.
    #[must_use]
    pub fn new(x_m: f64, z_m: f64) -> Self {
        Self { x_m, z_m }
    }

    /// The vector (x, z) turned by `angle_rad` from x towards z.
    #[must_use]
    pub fn turned(self, angle_rad: f64) -> Self {
        let (sin, cos) = angle_rad.sin_cos();
        Self { x_m: self.x_m * cos - self.z_m * sin, z_m: self.x_m * sin + self.z_m * cos }
    }
}

impl std::ops::Add for PlanePoint {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { x_m: self.x_m + other.x_m, z_m: self.z_m + other.z_m }
    }
}

impl std::ops::Sub for PlanePoint {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { x_m: self.x_m - other.x_m, z_m: self.z_m - other.z_m }
    }
}

/// Covariance of a point in the plane, m².
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct PlaneCov {
    /// Variance along x.
    pub xx: f64,
    /// Covariance of x and z.
    pub xz: f64,
    /// Variance along z.
    pub zz: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turning_a_quarter_swaps_axes() {
        let up = PlanePoint::new(1.0, 0.0).turned(std::f64::consts::FRAC_PI_2);
        assert!(up.x_m.abs() < 1e-15 && (up.z_m - 1.0).abs() < 1e-15);
    }
}
