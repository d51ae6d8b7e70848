//! Where the pose of its body puts a target in each frame's picture, to be compared with its mark.

use super::budget::Budgeted;
use super::drawings::in_frame;
use super::evaluate::BodyState;
use crate::plan::TargetPlan;
use filmgauge_geometry::{PlaneMap, PlaneOf};
use filmgauge_quantities::{Length, PixelPoint, PlanePoint};

/// One target as part of its rigid body.
pub(super) struct Fitted<'a> {
    camera: &'a Budgeted<'a>,
    map: &'a PlaneMap,
    body: &'a BodyState,
    place: PlanePoint,
    plane: PlaneOf,
    /// Plane offset, at contact.
    offset: Length,
}

impl<'a> Fitted<'a> {
    /// `None` for a target that is no part of a pose: one that deforms, or whose body has none.
    pub(super) fn of(camera: &'a Budgeted<'a>, target: &TargetPlan) -> Option<Self> {
        let body = camera.motion.bodies.iter().find(|body| body.id == target.body)?;
        let (_, place) = body.places.iter().find(|(id, _)| *id == target.id)?;
        let plane = camera.inputs.calibration.plane_of(&target.body).further(target.offset.value);
        let offset = target.offset.value;
        Some(Self { camera, map: &camera.motion.map, body, place: *place, plane, offset })
    }

    /// Step from where the pose puts the target to its mark, px to the right and down. `None` in a frame without a pose,
    /// and under a rolling shutter, where a mark and its frame's pose are of different instants.
    pub(super) fn off_px(&self, frame: usize, mark: PixelPoint) -> Option<[f64; 2]> {
        if self.camera.inputs.shutter.row_s != 0.0 {
            return None;
        }
        let pose = self.body.motion.poses.get(frame)?.as_ref()?;
        let point = pose.plane_from_body(self.place);
        let time_s = *self.camera.motion.times_s.get(frame)?;
        let depth = self.camera.inputs.depth_of(&self.body.id);
        let (point, plane) = depth.map_or((point, self.plane), |depth| {
            depth.of_target(time_s, self.offset).folded(point, self.plane)
        });
        let place = self.map.image_from_plane(point, plane).ok()?;
        let place = in_frame(&self.camera.inputs, place, frame)?;
        Some([mark.x - place.x, mark.y - place.y])
    }
}
