//! A body in depth at one instant: marks brought to a body that lies along the path, and back.

use crate::run::shutter::ImageMark;
use filmgauge_geometry::{GeometryError, PlaneMap, PlaneOf};
use filmgauge_motion::{PlaneMark, Pose};
use filmgauge_quantities::{Length, PlanePoint};

/// Rounds of place and depth, which depend on each other weakly.
const ROUNDS: usize = 6;

/// How a point of the body stands beside the point that the other camera follows, seen from that camera.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Beside {
    /// So far to the left of the body's line, m.
    Body(f64),
    /// So far to the left of the followed point at contact, across the path, m: what a plane offset tells.
    Path(f64),
    /// A target so far to the left of the body's line that stood so far ahead of the followed point at contact, m: where its
    /// body deforms, it slides along the body, and its plane offset is that of where it stood.
    Target { left_m: f64, ahead_m: f64 },
}

/// A body in depth at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct InDepth {
    /// Where along the path the followed point lies, m.
    pub(crate) x_m: f64,
    /// How far that point came nearer since contact, m.
    pub(crate) nearer_m: f64,
    /// +1 where the left of the path is towards the camera.
    pub(crate) towards: f64,
    /// Angle of the body to the path, now and at contact, rad.
    pub(crate) angles_rad: [f64; 2],
    /// Where the point that is asked for stands.
    pub(crate) beside: Beside,
}

impl InDepth {
    /// For a point that stands elsewhere.
    pub(crate) fn with(self, beside: Beside) -> Self {
        Self { beside, ..self }
    }

    /// Sine and cosine now and at contact.
    fn turns(&self) -> [(f64, f64); 2] {
        self.angles_rad.map(f64::sin_cos)
    }

    /// How far ahead of the followed point, along the body, a point stands that truly lies at `x_m` along the path.
    fn arm_m(&self, x_m: f64) -> f64 {
        let [(sin, cos), (sin0, cos0)] = self.turns();
        let ahead_m = x_m - self.x_m;
        match self.beside {
            Beside::Body(left_m) | Beside::Target { left_m, .. } => (ahead_m + left_m * sin) / cos,
            Beside::Path(left_m) => (ahead_m * cos0 + left_m * sin) / (cos * cos0 + sin0 * sin),
        }
    }

    /// How far to the left of the body's line through the followed point.
    fn left_m(&self, arm_m: f64) -> f64 {
        match self.beside {
            Beside::Body(left_m) | Beside::Target { left_m, .. } => left_m,
            Beside::Path(left_m) => {
                let (sin0, cos0) = self.angles_rad[1].sin_cos();
                (left_m - arm_m * sin0) / cos0
            }
        }
    }

    /// How much nearer a point lies than at contact, that stands `arm_m` ahead.
    fn nearer(&self, arm_m: f64) -> Length {
        let [(sin, cos), (sin0, cos0)] = self.turns();
        let arm_at_contact_m = match self.beside {
            Beside::Target { ahead_m, .. } => ahead_m,
            Beside::Body(_) | Beside::Path(_) => arm_m,
        };
        let by_turn = arm_m * sin - arm_at_contact_m * sin0 + self.left_m(arm_m) * (cos - cos0);
        Length::from_m(self.nearer_m + self.towards * by_turn)
    }

    /// The same for a point that truly lies at `x_m` along the path.
    pub(crate) fn nearer_at(&self, x_m: f64) -> Length {
        self.nearer(self.arm_m(x_m))
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
        let per_x = self.arm_m(point.x_m + 1.0) - self.arm_m(point.x_m);
        point.x_m = self.x_m + self.arm_m(point.x_m);
        cov.xx *= per_x * per_x;
        cov.xz *= per_x;
        Ok(PlaneMark { point, cov })
    }

    /// Where the point that is asked for stands, for good, found at `x_m` of the unfolded body.
    pub(crate) fn settled(&self, x_m: f64) -> Beside {
        let ahead_m = x_m - self.x_m;
        Beside::Target { left_m: self.left_m(ahead_m), ahead_m }
    }

    /// Where a point of the unfolded body truly lies along the path, m.
    pub(crate) fn folded_x(&self, x_m: f64) -> f64 {
        let (sin, cos) = self.angles_rad[0].sin_cos();
        let arm_m = x_m - self.x_m;
        self.x_m + arm_m * cos - self.left_m(arm_m) * sin
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
        let per_x = self.folded_x(pose.x_m + 1.0) - folded.x_m;
        folded.cov[0][0] *= per_x * per_x;
        for other in [1, 2] {
            folded.cov[0][other] *= per_x;
            folded.cov[other][0] *= per_x;
        }
        folded
    }
}
