//! The plane of motion: one camera's stored pixels to metres along the path and across it, and back.

use crate::{Board, GeometryError, Lens};
use filmgauge_quantities::{Length, PixelCov, PixelPoint, PlaneCov, PlanePoint, ViewPlane};

/// Maps one camera's stored pixels to its plane of motion.
///
/// The camera looks at right angles at the board's plane. A point in a plane `d` nearer the camera than the board,
/// which is at distance `D`, appears enlarged by `D / (D - d)` about the principal point; the map takes that out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaneMap {
    lens: Option<Lens>,
    centre: PixelPoint,
    /// Ratio of the focal lengths: makes rows as long as columns.
    row_stretch: f64,
    metres_per_px: f64,
    scale_relative_u: f64,
    /// Unit vectors of x and z in square pixels about the centre.
    x_axis: [f64; 2],
    z_axis: [f64; 2],
    /// The board's `from` in square pixels about the centre.
    origin: [f64; 2],
    distance_m: Option<f64>,
}

impl PlaneMap {
    /// A map with its origin at the board's `from` and x towards `to`.
    ///
    /// z points up in the picture for a side camera, whichever way the vehicle travels; for an overhead camera it
    /// points to the left of x, as seen from above. `image_centre` stands for the principal point where there is no
    /// lens. Without a stated distance, a lens gives it: focal length times metres per pixel.
    ///
    /// # Errors
    /// [`GeometryError::Board`] where the board gives no scale, [`GeometryError::OutsideLensField`] where one of its
    /// ends lies outside the lens' field.
    pub fn new(
        view: ViewPlane,
        board: &Board,
        lens: Option<&Lens>,
        image_centre: PixelPoint,
    ) -> Result<Self, GeometryError> {
        board.check()?;
        let mut map = Self {
            lens: lens.copied(),
            centre: lens.map_or(image_centre, |lens| PixelPoint::new(lens.cx_px, lens.cy_px)),
            row_stretch: lens.map_or(1.0, |lens| lens.fx_px / lens.fy_px),
            metres_per_px: 1.0,
            scale_relative_u: 0.0,
            x_axis: [1.0, 0.0],
            z_axis: [0.0, -1.0],
            origin: [0.0, 0.0],
            distance_m: None,
        };
        map.origin = map.square_from_image(board.from)?;
        let to = map.square_from_image(board.to)?;
        let along = [to[0] - map.origin[0], to[1] - map.origin[1]];
        let n_px = along[0].hypot(along[1]);
        map.x_axis = [along[0] / n_px, along[1] / n_px];
        map.z_axis = [map.x_axis[1], -map.x_axis[0]];
        if view == ViewPlane::Side && map.z_axis[1] > 0.0 {
            map.z_axis = [-map.z_axis[0], -map.z_axis[1]];
        }
        map.metres_per_px = board.length.value.as_m() / n_px;
        map.scale_relative_u = scale_relative_u(board, n_px);
        let from_lens = lens.map(|lens| lens.fx_px * map.metres_per_px);
        map.distance_m = board.distance.map(|distance| distance.value.as_m()).or(from_lens);
        Ok(map)
    }

    /// Metres per pixel in the board's plane.
    #[must_use]
    pub fn metres_per_px(&self) -> f64 {
        self.metres_per_px
    }

    /// Relative standard uncertainty of the scale, from the board's length and the reading of its ends.
    #[must_use]
    pub fn scale_relative_u(&self) -> f64 {
        self.scale_relative_u
    }

    /// Distance from camera to board, m: as stated, else from the lens, else unknown.
    #[must_use]
    pub fn distance_m(&self) -> Option<f64> {
        self.distance_m
    }

    /// The plane point of a stored pixel, with the covariance that the mark brings along. The doubts of board, lens
    /// and offset are common to all marks and not in it; see [`crate::Calibration`].
    ///
    /// # Errors
    /// [`GeometryError::OutsideLensField`] outside the lens' field, [`GeometryError::DistanceUnknown`] for an offset
    /// without a distance, [`GeometryError::OffsetReachesCamera`] for one that is too large.
    pub fn plane_from_image(
        &self,
        point: PixelPoint,
        cov: &PixelCov,
        offset: Length,
    ) -> Result<(PlanePoint, PlaneCov), GeometryError> {
        let square = self.square_from_image(point)?;
        let scale = self.metres_per_px * self.nearness(offset)?;
        let from_origin =
            |axis: [f64; 2]| scale * dot(axis, square) - self.metres_per_px * dot(axis, self.origin);
        let plane = PlanePoint::new(from_origin(self.x_axis), from_origin(self.z_axis));
        let jacobian = match &self.lens {
            Some(lens) => lens.undistort_jacobian(point)?,
            None => [[1.0, 0.0], [0.0, 1.0]],
        };
        let row = |axis: [f64; 2]| {
            let axis = [scale * axis[0], scale * axis[1] * self.row_stretch];
            [0, 1].map(|i| axis[0] * jacobian[0][i] + axis[1] * jacobian[1][i])
        };
        let (x, z) = (row(self.x_axis), row(self.z_axis));
        let carried = |a: [f64; 2], b: [f64; 2]| {
            a[0] * b[0] * cov.xx + (a[0] * b[1] + a[1] * b[0]) * cov.xy + a[1] * b[1] * cov.yy
        };
        Ok((plane, PlaneCov { xx: carried(x, x), xz: carried(x, z), zz: carried(z, z) }))
    }

    /// The stored pixel of a plane point; the inverse of [`PlaneMap::plane_from_image`].
    ///
    /// # Errors
    /// [`GeometryError::DistanceUnknown`] and [`GeometryError::OffsetReachesCamera`] as there.
    pub fn image_from_plane(&self, point: PlanePoint, offset: Length) -> Result<PixelPoint, GeometryError> {
        let nearness = self.nearness(offset)?;
        let x = point.x_m / self.metres_per_px + dot(self.x_axis, self.origin);
        let z = point.z_m / self.metres_per_px + dot(self.z_axis, self.origin);
        let column = (self.x_axis[0] * x + self.z_axis[0] * z) / nearness;
        let row = (self.x_axis[1] * x + self.z_axis[1] * z) / nearness;
        let ideal = self.centre.moved(column, row / self.row_stretch);
        Ok(self.lens.map_or(ideal, |lens| lens.distort(ideal)))
    }

    /// 1 - offset / distance: what an offset plane's metres are of the board plane's.
    fn nearness(&self, offset: Length) -> Result<f64, GeometryError> {
        let offset_m = offset.as_m();
        if offset_m == 0.0 {
            return Ok(1.0);
        }
        let distance_m = self.distance_m.ok_or(GeometryError::DistanceUnknown { offset_m })?;
        let nearness = 1.0 - offset_m / distance_m;
        if nearness > 0.0 {
            Ok(nearness)
        } else {
            Err(GeometryError::OffsetReachesCamera { offset_m, distance_m })
        }
    }

    /// Undistorted, about the principal point, rows made as long as columns.
    fn square_from_image(&self, point: PixelPoint) -> Result<[f64; 2], GeometryError> {
        let ideal = match &self.lens {
            Some(lens) => lens.undistort(point)?,
            None => point,
        };
        Ok([ideal.x - self.centre.x, (ideal.y - self.centre.y) * self.row_stretch])
    }
}

/// (u(s)/s)² = (u(L)/L)² + 2 (u_px/N)², by JCGM 100, 5.1.2, for s = L / N.
fn scale_relative_u(board: &Board, n_px: f64) -> f64 {
    let length = board.length.u.as_m() / board.length.value.as_m();
    length.hypot(std::f64::consts::SQRT_2 * board.reading_u_px / n_px)
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

#[cfg(test)]
mod tests;
