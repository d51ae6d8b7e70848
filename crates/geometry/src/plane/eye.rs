//! The camera before the reference's plane, and how it sees planes that are nearer or turned.

use super::PlaneOf;
use crate::GeometryError;
use filmgauge_quantities::{Length, PlanePoint};
use nalgebra::Matrix2;

/// Greatest inclination, rad: 80°.
const MOST_INCLINED_RAD: f64 = 1.396_263_401_595_463_6;

/// Where the camera stands before the reference's plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Eye {
    /// The plane's point nearest to the camera.
    pub(crate) foot: PlanePoint,
    /// From that point to the camera, m.
    pub(crate) distance_m: f64,
}

/// 1 - offset / distance: what an offset plane's metres are of the reference plane's.
pub(super) fn nearness(eye: Option<Eye>, offset: Length) -> Result<f64, GeometryError> {
    let offset_m = offset.as_m();
    if offset_m == 0.0 {
        return Ok(1.0);
    }
    let distance_m = eye.ok_or(GeometryError::DistanceUnknown { offset_m })?.distance_m;
    let nearness = 1.0 - offset_m / distance_m;
    if nearness > 0.0 {
        Ok(nearness)
    } else {
        Err(GeometryError::OffsetReachesCamera { offset_m, distance_m })
    }
}

/// A body's plane before a camera: the line (s cos β, offset + s sin β) in x and towards the camera.
pub(super) struct Shifted {
    eye: Eye,
    offset_m: f64,
    sin: f64,
    cos: f64,
}

impl Shifted {
    pub(super) fn new(eye: Option<Eye>, plane: &PlaneOf) -> Result<Self, GeometryError> {
        let (offset_m, inclination) = (plane.offset.as_m(), plane.inclination.as_rad());
        // Written so that a number that is none is refused as well.
        if !(inclination.abs() <= MOST_INCLINED_RAD && offset_m.is_finite()) {
            return Err(GeometryError::Setting {
                setting: "inclination",
                value: inclination.to_degrees(),
                rule: "it must be -80 to 80 degrees, with an offset that is a number",
            });
        }
        let eye = eye.ok_or(if inclination == 0.0 {
            GeometryError::DistanceUnknown { offset_m }
        } else {
            GeometryError::Reference {
                why: "an inclined path needs the distance from camera to plane; state it, or name a lens"
                    .into(),
            }
        })?;
        let (sin, cos) = inclination.sin_cos();
        Ok(Self { eye, offset_m, sin, cos })
    }

    /// The point of the body's plane on the ray through a point of the reference's plane, and its partial derivatives by that.
    pub(super) fn body_from_reference(
        &self,
        at: PlanePoint,
    ) -> Result<(PlanePoint, Matrix2<f64>), GeometryError> {
        let Eye { foot, distance_m } = self.eye;
        let slope = self.sin / self.cos;
        let arm = at - foot;
        let ahead = distance_m - self.offset_m - slope * foot.x_m;
        let closing = distance_m + slope * arm.x_m;
        // Share of the way from the camera to the reference's plane.
        let share = ahead / closing;
        if !(ahead > 0.0 && closing > 0.0 && share.is_finite()) {
            return Err(self.reaches());
        }
        let by_x = -share * slope / closing;
        let found = PlanePoint::new((foot.x_m + share * arm.x_m) / self.cos, foot.z_m + share * arm.z_m);
        let slopes = Matrix2::new((share + arm.x_m * by_x) / self.cos, 0.0, arm.z_m * by_x, share);
        Ok((found, slopes))
    }

    /// The point of the reference's plane on the ray through a point of the body's plane.
    pub(super) fn reference_from_body(&self, at: PlanePoint) -> Result<PlanePoint, GeometryError> {
        let Eye { foot, distance_m } = self.eye;
        let left_m = distance_m - self.offset_m - at.x_m * self.sin;
        if left_m.is_nan() || left_m <= 0.0 {
            return Err(self.reaches());
        }
        let away = distance_m / left_m;
        Ok(PlanePoint::new(
            foot.x_m + (at.x_m * self.cos - foot.x_m) * away,
            foot.z_m + (at.z_m - foot.z_m) * away,
        ))
    }

    fn reaches(&self) -> GeometryError {
        if self.sin == 0.0 {
            return GeometryError::OffsetReachesCamera {
                offset_m: self.offset_m,
                distance_m: self.eye.distance_m,
            };
        }
        GeometryError::View {
            why: "the inclined plane does not meet the line of sight before the camera".into(),
        }
    }
}
