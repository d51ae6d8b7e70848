//! A body in depth at one instant: marks brought to a body that lies along the path, and back.

use crate::run::shutter::ImageMark;
use filmgauge_geometry::{GeometryError, PlaneMap, PlaneOf};
use filmgauge_motion::{PlaneMark, Pose};
use filmgauge_quantities::{Length, PlanePoint};

/// Rounds of place and depth, which depend on each other weakly.
const ROUNDS: usize = 4;

/// A body in depth at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct InDepth {
    /// Where along the path the point lies that the body turns about here, m.
    pub(crate) x_m: f64,
    /// How far that point came nearer since contact, m.
    pub(crate) nearer_m: f64,
    /// Cosine of the body's angle to the path.
    pub(crate) cos: f64,
    /// What a metre of body ahead of the point came nearer since contact by the turn.
    pub(crate) nearer_by_arm: f64,
}

impl InDepth {
    /// How much nearer a point lies than before contact, that stands `arm_m` ahead of the body's point, along the body.
    fn nearer(&self, arm_m: f64) -> Length {
        Length::from_m(self.nearer_m + self.nearer_by_arm * arm_m)
    }

    /// The same for a point that truly lies at `x_m` along the path.
    pub(crate) fn nearer_at(&self, x_m: f64) -> Length {
        self.nearer((x_m - self.x_m) / self.cos)
    }

    /// A mark on its own depth, told as if the body lay along the path: lengths along the body are kept.
    pub(crate) fn unfolded(
        &self,
        map: &PlaneMap,
        (point, cov): ImageMark,
        plane: PlaneOf,
    ) -> Result<PlaneMark, GeometryError> {
        let mut nearer = self.nearer(0.0);
        let mut found = map.plane_from_image(point, &cov, plane.further(nearer))?;
        for _ in 0..ROUNDS {
            nearer = self.nearer_at(found.0.x_m);
            found = map.plane_from_image(point, &cov, plane.further(nearer))?;
        }
        let (mut point, mut cov) = found;
        point.x_m = self.x_m + (point.x_m - self.x_m) / self.cos;
        cov.xx /= self.cos * self.cos;
        cov.xz /= self.cos;
        Ok(PlaneMark { point, cov })
    }

    /// Where a point of the unfolded body truly lies along the path, m.
    pub(crate) fn folded_x(&self, x_m: f64) -> f64 {
        self.x_m + (x_m - self.x_m) * self.cos
    }

    /// A point of the unfolded body on its own depth: place and plane.
    pub(crate) fn folded(&self, point: PlanePoint, plane: PlaneOf) -> (PlanePoint, PlaneOf) {
        let nearer = self.nearer(point.x_m - self.x_m);
        (PlanePoint::new(self.folded_x(point.x_m), point.z_m), plane.further(nearer))
    }

    /// A pose of the unfolded body as it lies.
    pub(crate) fn folded_pose(&self, pose: &Pose) -> Pose {
        let mut folded = *pose;
        folded.x_m = self.folded_x(pose.x_m);
        folded.cov[0][0] *= self.cos * self.cos;
        for other in [1, 2] {
            folded.cov[0][other] *= self.cos;
            folded.cov[other][0] *= self.cos;
        }
        folded
    }
}
