//! The reference's own plane: seen at right angles, or at a slant.

use super::eye::Eye;
use crate::homography::{image_of, plane_of, slopes};
use crate::known_length::{KnownLength, weighed_scale};
use crate::rigid::vector;
use crate::{Board, CameraPose, GeometryError, Lens};
use filmgauge_quantities::{Length, PixelCov, PixelPoint, PlaneCov, PlanePoint, ViewPlane};
use nalgebra::{Matrix2, Matrix3, Vector3};

/// How the reference's plane is pictured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Base {
    SquareOn(SquareOn),
    Slanted(Slanted),
}

/// A plane at right angles to the camera's axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SquareOn {
    centre: PixelPoint,
    /// Ratio of the focal lengths: makes rows as long as columns.
    row_stretch: f64,
    metres_per_px: f64,
    /// Unit vectors of x and z in square pixels about the centre.
    x_axis: [f64; 2],
    z_axis: [f64; 2],
    /// The board's `from` in square pixels about the centre.
    origin: [f64; 2],
}

impl SquareOn {
    /// The plane of a board, and the relative standard uncertainty of its scale.
    pub(super) fn new(
        view: ViewPlane,
        board: &Board,
        lengths: &[KnownLength],
        lens: Option<&Lens>,
        image_centre: PixelPoint,
    ) -> Result<(Self, f64), GeometryError> {
        board.check()?;
        let mut map = Self {
            centre: lens.map_or(image_centre, |lens| PixelPoint::new(lens.cx_px, lens.cy_px)),
            row_stretch: lens.map_or(1.0, |lens| lens.fx_px / lens.fy_px),
            metres_per_px: 1.0,
            x_axis: [1.0, 0.0],
            z_axis: [0.0, -1.0],
            origin: [0.0, 0.0],
        };
        map.origin = map.square_from_image(lens, board.from)?;
        let to = map.square_from_image(lens, board.to)?;
        let along = [to[0] - map.origin[0], to[1] - map.origin[1]];
        let n_px = along[0].hypot(along[1]);
        map.x_axis = [along[0] / n_px, along[1] / n_px];
        map.z_axis = [map.x_axis[1], -map.x_axis[0]];
        if view == ViewPlane::Side && map.z_axis[1] > 0.0 {
            map.z_axis = [-map.z_axis[0], -map.z_axis[1]];
        }
        map.metres_per_px = board.length.value.as_m() / n_px;
        let relative_u = scale_relative_u(board, n_px);
        let square = |at| map.square_from_image(lens, at);
        if let Some((scale, u)) = weighed_scale(map.metres_per_px, relative_u, lengths, square)? {
            map.metres_per_px = scale;
            return Ok((map, u));
        }
        Ok((map, relative_u))
    }

    pub(super) fn metres_per_px(&self) -> f64 {
        self.metres_per_px
    }

    /// The plane point at the principal point.
    pub(super) fn foot(&self) -> PlanePoint {
        let of = |axis| -self.metres_per_px * dot(axis, self.origin);
        PlanePoint::new(of(self.x_axis), of(self.z_axis))
    }

    pub(super) fn plane_from_image(
        &self,
        lens: Option<&Lens>,
        point: PixelPoint,
        cov: &PixelCov,
        nearness: f64,
    ) -> Result<(PlanePoint, PlaneCov), GeometryError> {
        let square = self.square_from_image(lens, point)?;
        let scale = self.metres_per_px * nearness;
        let from_origin =
            |axis: [f64; 2]| scale * dot(axis, square) - self.metres_per_px * dot(axis, self.origin);
        let plane = PlanePoint::new(from_origin(self.x_axis), from_origin(self.z_axis));
        let [x, z] = self.slopes(lens, point, scale)?;
        let carried = |a: [f64; 2], b: [f64; 2]| {
            a[0] * b[0] * cov.xx + (a[0] * b[1] + a[1] * b[0]) * cov.xy + a[1] * b[1] * cov.yy
        };
        Ok((plane, PlaneCov { xx: carried(x, x), xz: carried(x, z), zz: carried(z, z) }))
    }

    /// Partial derivatives of x and of z by the stored pixel, m per px.
    fn slopes(
        &self,
        lens: Option<&Lens>,
        point: PixelPoint,
        scale: f64,
    ) -> Result<[[f64; 2]; 2], GeometryError> {
        let jacobian = match lens {
            Some(lens) => lens.undistort_jacobian(point)?,
            None => [[1.0, 0.0], [0.0, 1.0]],
        };
        Ok([self.x_axis, self.z_axis].map(|axis| {
            let axis = [scale * axis[0], scale * axis[1] * self.row_stretch];
            [0, 1].map(|i| axis[0] * jacobian[0][i] + axis[1] * jacobian[1][i])
        }))
    }

    pub(super) fn image_from_plane(
        &self,
        lens: Option<&Lens>,
        point: PlanePoint,
        nearness: f64,
    ) -> PixelPoint {
        let ideal = self.ideal_from_plane(point, nearness);
        lens.map_or(ideal, |lens| lens.distort(ideal))
    }

    fn ideal_from_plane(&self, point: PlanePoint, nearness: f64) -> PixelPoint {
        let x = point.x_m / self.metres_per_px + dot(self.x_axis, self.origin);
        let z = point.z_m / self.metres_per_px + dot(self.z_axis, self.origin);
        let column = (self.x_axis[0] * x + self.z_axis[0] * z) / nearness;
        let row = (self.x_axis[1] * x + self.z_axis[1] * z) / nearness;
        self.centre.moved(column, row / self.row_stretch)
    }

    /// Undistorted, about the principal point, rows made as long as columns.
    fn square_from_image(&self, lens: Option<&Lens>, point: PixelPoint) -> Result<[f64; 2], GeometryError> {
        let ideal = match lens {
            Some(lens) => lens.undistort(point)?,
            None => point,
        };
        Ok([ideal.x - self.centre.x, (ideal.y - self.centre.y) * self.row_stretch])
    }
}

/// A plane at any slant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Slanted {
    ideal_from_plane: Matrix3<f64>,
}

impl Slanted {
    pub(super) fn new(ideal_from_plane: &Matrix3<f64>) -> Result<Self, GeometryError> {
        if ideal_from_plane.try_inverse().is_none() {
            return Err(GeometryError::Reference { why: "the camera lies in the plane".into() });
        }
        Ok(Self { ideal_from_plane: *ideal_from_plane })
    }

    /// The plane at `plane_at` of a camera in space, and where the camera stands before it.
    pub(super) fn of_pose(
        view: ViewPlane,
        lens: &Lens,
        pose: &CameraPose,
        plane_at: Length,
    ) -> Result<(Self, Eye), GeometryError> {
        let (second, third) = match view {
            ViewPlane::Side => (Vector3::z(), Vector3::y()),
            ViewPlane::Overhead => (Vector3::y(), Vector3::z()),
        };
        let (turn, centre) = (pose.turn(), vector(pose.centre));
        let lens_matrix =
            Matrix3::new(lens.fx_px, 0.0, lens.cx_px, 0.0, lens.fy_px, lens.cy_px, 0.0, 0.0, 1.0);
        let origin = third * plane_at.as_m() - centre;
        let columns = [turn * Vector3::x(), turn * second, turn * origin];
        let distance_m = (third.dot(&centre) - plane_at.as_m()).abs();
        if distance_m < 1e-3 {
            return Err(GeometryError::Reference { why: "the camera lies in the plane".into() });
        }
        let foot = PlanePoint::new(centre.x, second.dot(&centre));
        Ok((Self::new(&(lens_matrix * Matrix3::from_columns(&columns)))?, Eye { foot, distance_m }))
    }

    /// Metres per pixel at an ideal pixel: the root of the ratio of areas.
    pub(super) fn metres_per_px(&self, at: PixelPoint) -> Result<f64, GeometryError> {
        let slopes = slopes(&self.ideal_from_plane, self.plane_from_ideal(at)?).ok_or_else(horizon)?;
        Ok(slopes.determinant().abs().sqrt().recip())
    }

    pub(crate) fn plane_from_ideal(&self, ideal: PixelPoint) -> Result<PlanePoint, GeometryError> {
        plane_of(&self.ideal_from_plane, ideal).ok_or_else(horizon)
    }
}

impl Base {
    /// The point of the reference's plane at a stored pixel, and its partial derivatives by that pixel.
    pub(super) fn plane_from_image(
        &self,
        lens: Option<&Lens>,
        point: PixelPoint,
    ) -> Result<(PlanePoint, Matrix2<f64>), GeometryError> {
        match self {
            Self::SquareOn(square) => {
                let at = square.plane_from_image(lens, point, &PixelCov::default(), 1.0)?.0;
                let [x, z] = square.slopes(lens, point, square.metres_per_px)?;
                Ok((at, Matrix2::new(x[0], x[1], z[0], z[1])))
            }
            Self::Slanted(slanted) => {
                let (ideal, bend) = match lens {
                    Some(lens) => (lens.undistort(point)?, lens.undistort_jacobian(point)?),
                    None => (point, [[1.0, 0.0], [0.0, 1.0]]),
                };
                let at = slanted.plane_from_ideal(ideal)?;
                let back = slopes(&slanted.ideal_from_plane, at).and_then(|slopes| slopes.try_inverse());
                let bend = Matrix2::new(bend[0][0], bend[0][1], bend[1][0], bend[1][1]);
                Ok((at, back.ok_or_else(horizon)? * bend))
            }
        }
    }

    pub(super) fn ideal_from_plane(&self, at: PlanePoint) -> Result<PixelPoint, GeometryError> {
        match self {
            Self::SquareOn(square) => Ok(square.ideal_from_plane(at, 1.0)),
            Self::Slanted(slanted) => image_of(&slanted.ideal_from_plane, at)
                .ok_or_else(|| GeometryError::View { why: "the plane point lies behind the camera".into() }),
        }
    }
}

fn horizon() -> GeometryError {
    GeometryError::View {
        why: "the pixel lies at the plane's horizon or beyond: no point of the plane is seen there".into(),
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
