//! The plane of motion: one camera's stored pixels to metres along the path and across it, and back.

mod base;
mod eye;
#[cfg(test)]
mod tests;

use crate::known_length::{KnownLength, LengthRole};
use crate::{Board, Calibration, GeometryError, Lens, PlanePoints, PosePoints, Reference};
pub(crate) use base::Slanted;
use base::{Base, SquareOn};
pub(crate) use eye::Eye;
use eye::Shifted;
use filmgauge_quantities::{Angle, Length, PixelCov, PixelPoint, PlaneCov, PlanePoint, ViewPlane};

/// Where a body's plane lies with respect to the reference's plane.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PlaneOf {
    /// Distance from the reference's plane, positive towards the camera, where the body's path crosses x = 0.
    pub offset: Length,
    /// Turn about the second axis at x = 0: positive where the path nears the camera as x grows. Below 80° either way.
    pub inclination: Angle,
}

impl PlaneOf {
    /// The plane of a target that stands further from the body's by `offset`.
    #[must_use]
    pub fn further(self, offset: Length) -> Self {
        Self { offset: offset + self.offset, ..self }
    }

    fn is_reference(self) -> bool {
        self.offset.as_m() == 0.0 && self.inclination.as_rad() == 0.0
    }
}

impl From<Length> for PlaneOf {
    /// A plane parallel to the reference's.
    fn from(offset: Length) -> Self {
        Self { offset, inclination: Angle::default() }
    }
}

/// Maps one camera's stored pixels to its plane of motion.
///
/// It rests on a board at right angles to the camera's axis, on surveyed points of a plane at any slant, or on the camera's
/// pose. A point in another plane is seen along the same ray: a point `d` nearer the camera than a board at distance `D` appears
/// enlarged by `D / (D - d)` about the camera's foot on the plane, and an inclined path by D cos β / (D - x sin β).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaneMap {
    lens: Option<Lens>,
    base: Base,
    eye: Option<Eye>,
    metres_per_px: f64,
    scale_relative_u: f64,
}

impl PlaneMap {
    /// The map of a calibration.
    ///
    /// Board: origin at `from`, x towards `to`; z points up in the picture for a side camera, whichever way the vehicle travels,
    /// and to the left of x, as seen from above, for an overhead camera. The calibration's `image_centre` stands for the
    /// principal point where there is no lens. Without a stated distance, a lens gives it: focal length times metres per pixel.
    ///
    /// Plane points: axes and origin are the survey's. The camera's distance and foot come from the points' pose where a lens is
    /// known, else from a stated distance and the plane point at the picture's centre.
    ///
    /// Pose: x and z of space at the plane's y for a side camera, x and y at the plane's z for an overhead camera.
    ///
    /// # Errors
    /// [`GeometryError::Board`] where the board gives no scale, [`GeometryError::PlanePoints`] and [`GeometryError::Pose`] where
    /// the points give none, [`GeometryError::OutsideLensField`] where a mark lies outside the lens' field.
    pub fn new(calibration: &Calibration) -> Result<Self, GeometryError> {
        let lens = calibration.lens.as_ref().map(|file| &file.lens);
        let in_fit = calibration.lengths.iter().find(|known| known.role == LengthRole::Fit);
        if let (Reference::Points(_) | Reference::Pose(_), Some(known)) = (&calibration.reference, in_fit) {
            let why =
                format!("{} can share in the scale of a board only; make it a check length", known.name);
            return Err(GeometryError::Reference { why });
        }
        match &calibration.reference {
            Reference::Board(board) => {
                Self::of_board(calibration.view, board, &calibration.lengths, lens, calibration.image_centre)
            }
            Reference::Points(points) => Self::of_points(points, lens, calibration.image_centre),
            Reference::Pose(points) => Self::of_pose(calibration.view, points, lens),
        }
    }

    fn of_board(
        view: ViewPlane,
        board: &Board,
        lengths: &[KnownLength],
        lens: Option<&Lens>,
        image_centre: PixelPoint,
    ) -> Result<Self, GeometryError> {
        let (square, scale_relative_u) = SquareOn::new(view, board, lengths, lens, image_centre)?;
        let from_lens = lens.map(|lens| lens.fx_px * square.metres_per_px());
        let distance_m = board.distance.map(|distance| distance.value.as_m()).or(from_lens);
        Ok(Self {
            lens: lens.copied(),
            base: Base::SquareOn(square),
            eye: distance_m.map(|distance_m| Eye { foot: square.foot(), distance_m }),
            metres_per_px: square.metres_per_px(),
            scale_relative_u,
        })
    }

    fn of_points(
        points: &PlanePoints,
        lens: Option<&Lens>,
        image_centre: PixelPoint,
    ) -> Result<Self, GeometryError> {
        let fit = points.fit(lens)?;
        let slanted = Slanted::new(&fit.matrix())?;
        let middle = points.middle(lens)?;
        let metres_per_px = slanted.metres_per_px(middle)?;
        let moved = (0..8).map(|axis| Slanted::new(&fit.moved(axis))?.metres_per_px(middle));
        Ok(Self {
            lens: lens.copied(),
            base: Base::Slanted(slanted),
            eye: points.eye(lens, &slanted, image_centre)?,
            metres_per_px,
            scale_relative_u: relative_spread(metres_per_px, moved)?,
        })
    }

    fn of_pose(view: ViewPlane, points: &PosePoints, lens: Option<&Lens>) -> Result<Self, GeometryError> {
        let lens = lens.ok_or_else(|| GeometryError::Reference {
            why: "a camera's pose needs its lens; name a lens file, or give points of the plane instead"
                .into(),
        })?;
        let fit = points.fit(lens)?;
        let slanted = |pose: &crate::CameraPose| Slanted::of_pose(view, lens, pose, points.plane_at);
        let (base, eye) = slanted(&fit.camera.pose)?;
        let middle = points.middle(lens)?;
        let metres_per_px = base.metres_per_px(middle)?;
        let moved = (0..6).map(|axis| {
            slanted(&crate::reference::moved_pose(&fit.camera, axis, 1.0))?.0.metres_per_px(middle)
        });
        Ok(Self {
            lens: Some(*lens),
            base: Base::Slanted(base),
            eye: Some(eye),
            metres_per_px,
            scale_relative_u: relative_spread(metres_per_px, moved)?,
        })
    }

    /// Metres per pixel in the reference's plane: for a board throughout, else in the middle of the control points' marks.
    #[must_use]
    pub fn metres_per_px(&self) -> f64 {
        self.metres_per_px
    }

    /// Relative standard uncertainty of the scale, from the reference's lengths and marks.
    #[must_use]
    pub fn scale_relative_u(&self) -> f64 {
        self.scale_relative_u
    }

    /// Distance from the camera to the reference's plane, m, where known.
    #[must_use]
    pub fn distance_m(&self) -> Option<f64> {
        self.eye.map(|eye| eye.distance_m)
    }

    /// The point of the reference's plane nearest to the camera, where known.
    #[must_use]
    pub fn foot(&self) -> Option<PlanePoint> {
        self.eye.map(|eye| eye.foot)
    }

    /// The plane point of a stored pixel, with the covariance that the mark brings along. x is measured along the body's own
    /// plane. The doubts of reference, lens and plane are common to all marks and not in it; see [`crate::Calibration`].
    ///
    /// # Errors
    /// [`GeometryError::OutsideLensField`] outside the lens' field, [`GeometryError::DistanceUnknown`] for another plane than
    /// the reference's without a distance, [`GeometryError::OffsetReachesCamera`] for an offset that is too large,
    /// [`GeometryError::View`] where the ray does not meet the plane.
    pub fn plane_from_image(
        &self,
        point: PixelPoint,
        cov: &PixelCov,
        plane: impl Into<PlaneOf>,
    ) -> Result<(PlanePoint, PlaneCov), GeometryError> {
        let plane = plane.into();
        if let Base::SquareOn(square) = &self.base
            && plane.inclination.as_rad() == 0.0
        {
            let nearness = eye::nearness(self.eye, plane.offset)?;
            return square.plane_from_image(self.lens.as_ref(), point, cov, nearness);
        }
        let (at, slopes) = self.base.plane_from_image(self.lens.as_ref(), point)?;
        if plane.is_reference() {
            return Ok((at, carried(&slopes, cov)));
        }
        let shifted = Shifted::new(self.eye, &plane)?;
        let (at, by_base) = shifted.body_from_reference(at)?;
        Ok((at, carried(&(by_base * slopes), cov)))
    }

    /// The stored pixel of a plane point; the inverse of [`PlaneMap::plane_from_image`].
    ///
    /// # Errors
    /// As there.
    pub fn image_from_plane(
        &self,
        point: PlanePoint,
        plane: impl Into<PlaneOf>,
    ) -> Result<PixelPoint, GeometryError> {
        let plane = plane.into();
        if let Base::SquareOn(square) = &self.base
            && plane.inclination.as_rad() == 0.0
        {
            return Ok(square.image_from_plane(
                self.lens.as_ref(),
                point,
                eye::nearness(self.eye, plane.offset)?,
            ));
        }
        let at = if plane.is_reference() {
            point
        } else {
            Shifted::new(self.eye, &plane)?.reference_from_body(point)?
        };
        let ideal = self.base.ideal_from_plane(at)?;
        Ok(self.lens.map_or(ideal, |lens| lens.distort(ideal)))
    }
}

fn carried(slopes: &nalgebra::Matrix2<f64>, cov: &PixelCov) -> PlaneCov {
    let plane = slopes * nalgebra::Matrix2::new(cov.xx, cov.xy, cov.xy, cov.yy) * slopes.transpose();
    PlaneCov { xx: plane.m11, xz: plane.m12, zz: plane.m22 }
}

fn relative_spread(
    value: f64,
    moved: impl Iterator<Item = Result<f64, GeometryError>>,
) -> Result<f64, GeometryError> {
    let mut sum = 0.0;
    for moved in moved {
        sum += (moved? / value - 1.0).powi(2);
    }
    Ok(sum.sqrt())
}
