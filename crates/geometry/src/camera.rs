//! A camera in space: lens and pose; space to stored pixels, stored pixels to rays, and where a ray meets a plane, with partial
//! derivatives for every doubtful input.

use crate::rigid::{cross, point, vector};
use crate::{GeometryError, Lens};
use filmgauge_quantities::{PixelCov, PixelPoint, SpaceCov, SpacePoint};
use nalgebra::{Matrix2, Matrix3, Rotation3, SMatrix, Vector3};

/// Where a camera stands and where it looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CameraPose {
    /// Rotation, rows first: its rows are the camera's axes (to the right, down, ahead) in the axes of space.
    pub camera_from_space: [[f64; 3]; 3],
    /// The entrance pupil.
    pub centre: SpacePoint,
}

/// A lens with a pose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PosedCamera {
    /// The lens.
    pub lens: Lens,
    /// The pose.
    pub pose: CameraPose,
    /// Covariance of the pose from marks and survey: turns about the camera's own axes (right, down, ahead; rad), then the
    /// centre's x, y, z (m).
    pub cov: [[f64; 6]; 6],
    /// What the pose gains when a lens term grows by one: rows as in `cov`, columns as in [`crate::LENS_TERMS`]. Zero for a
    /// pose that does not rest on the lens.
    pub by_lens: [[f64; 9]; 6],
}

/// The line of sight of a pixel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ray {
    /// The camera's centre.
    pub from: SpacePoint,
    /// Direction in space; its part along the camera's axis is 1.
    pub direction: [f64; 3],
    by_pixel: SMatrix<f64, 3, 2>,
    by_turn: Matrix3<f64>,
    by_lens: SMatrix<f64, 3, 9>,
    pose_by_lens: SMatrix<f64, 6, 9>,
}

/// A plane in space.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpacePlane {
    /// Any point of it.
    pub through: SpacePoint,
    /// At right angles to it; of any length but 0.
    pub normal: [f64; 3],
}

/// Where a ray meets a plane, and what moves it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crossing {
    /// The point.
    pub at: SpacePoint,
    /// Distance along the camera's axis, m.
    pub depth_m: f64,
    /// By the pixel's column and row, m per px.
    pub by_pixel: [[f64; 2]; 3],
    /// By the pose, in the order of [`PosedCamera::cov`].
    pub by_pose: [[f64; 6]; 3],
    /// By the lens terms, in the order of [`crate::LENS_TERMS`], with what the pose gains by them.
    pub by_lens: [[f64; 9]; 3],
    /// By a shift of the plane along its normal, m per m.
    pub by_shift: [f64; 3],
}

impl CameraPose {
    /// The rotation as a matrix.
    pub(crate) fn turn(&self) -> Rotation3<f64> {
        Rotation3::from_matrix_unchecked(Matrix3::from_fn(|row, column| self.camera_from_space[row][column]))
    }

    pub(crate) fn new(turn: &Rotation3<f64>, centre: Vector3<f64>) -> Self {
        let m = turn.matrix();
        let camera_from_space = [0, 1, 2].map(|row| [0, 1, 2].map(|column| m[(row, column)]));
        Self { camera_from_space, centre: point(centre) }
    }

    /// A camera at `centre` that looks at `at`, its rows level.
    ///
    /// # Errors
    /// [`GeometryError::View`] where the two coincide, or the camera would look straight up or down.
    pub fn looking_at(centre: SpacePoint, at: SpacePoint) -> Result<Self, GeometryError> {
        let ahead = vector(at) - vector(centre);
        let right = ahead.cross(&Vector3::z());
        if ahead.norm() < 1e-9 || right.norm() < 1e-9 * ahead.norm() {
            return Err(GeometryError::View {
                why: "a camera needs a point to look at that is neither its own place nor straight above or below".into(),
            });
        }
        let (ahead, right) = (ahead.normalize(), right.normalize());
        let down = ahead.cross(&right);
        let rows = Matrix3::from_rows(&[right.transpose(), down.transpose(), ahead.transpose()]);
        Ok(Self::new(&Rotation3::from_matrix_unchecked(rows), vector(centre)))
    }

    /// A point in the camera's own axes, m: to the right, down, ahead.
    #[must_use]
    pub fn camera_of(&self, at: SpacePoint) -> [f64; 3] {
        (self.turn() * (vector(at) - vector(self.centre))).into()
    }

    /// The pose after a turn about the camera's own axes, rad, and a shift of its centre, m.
    #[must_use]
    pub fn moved(&self, by: &[f64; 6]) -> Self {
        let mut turn = Rotation3::new(Vector3::new(by[0], by[1], by[2])) * self.turn();
        turn.renormalize();
        Self::new(&turn, vector(self.centre) + Vector3::new(by[3], by[4], by[5]))
    }
}

impl PosedCamera {
    /// A camera whose pose is taken as exact.
    #[must_use]
    pub fn exact(lens: Lens, pose: CameraPose) -> Self {
        Self { lens, pose, cov: [[0.0; 6]; 6], by_lens: [[0.0; 9]; 6] }
    }

    /// The stored pixel of a point in space; `None` behind the camera or outside the lens' field.
    #[must_use]
    pub fn image_of(&self, at: SpacePoint) -> Option<PixelPoint> {
        let ideal = ideal_of(&self.lens, &Vector3::from(self.pose.camera_of(at)))?;
        self.lens.holds(ideal).then(|| self.lens.distort(ideal))
    }

    /// The line of sight of a stored pixel.
    ///
    /// # Errors
    /// [`GeometryError::OutsideLensField`] outside the lens' field.
    pub fn ray(&self, seen: PixelPoint) -> Result<Ray, GeometryError> {
        let ideal = self.lens.undistort(seen)?;
        let (x, y) = self.lens.normalised(ideal);
        let back = self.lens.undistort_jacobian(seen)?;
        let to_normal = Matrix2::new(
            back[0][0] / self.lens.fx_px,
            back[0][1] / self.lens.fx_px,
            back[1][0] / self.lens.fy_px,
            back[1][1] / self.lens.fy_px,
        );
        let space_from_camera = self.pose.turn().inverse();
        let across = space_from_camera.matrix().fixed_columns::<2>(0).into_owned();
        let in_camera = Vector3::new(x, y, 1.0);
        Ok(Ray {
            from: self.pose.centre,
            direction: (space_from_camera * in_camera).into(),
            by_pixel: across * to_normal,
            // A camera turned by w sees the same pixel along R'(d - w x d).
            by_turn: space_from_camera.matrix() * cross(&in_camera),
            by_lens: -(across * to_normal * stored_by_lens(&self.lens, x, y)),
            pose_by_lens: SMatrix::from_fn(|row, column| self.by_lens[row][column]),
        })
    }
}

/// The ideal pixel of a point in the camera's axes; `None` behind the camera.
pub(crate) fn ideal_of(lens: &Lens, at: &Vector3<f64>) -> Option<PixelPoint> {
    (at.z > 0.0).then(|| {
        PixelPoint::new(lens.fx_px * at.x / at.z + lens.cx_px, lens.fy_px * at.y / at.z + lens.cy_px)
    })
}

/// Partial derivatives of the stored pixel by the point in the camera's axes, px per m.
pub(crate) fn stored_by_place(lens: &Lens, at: &Vector3<f64>) -> Option<SMatrix<f64, 2, 3>> {
    let ideal = ideal_of(lens, at)?;
    let bend = lens.distort_jacobian(ideal);
    let bend = Matrix2::new(bend[0][0], bend[0][1], bend[1][0], bend[1][1]);
    let (fx, fy, z) = (lens.fx_px, lens.fy_px, at.z);
    let ideal_by_place =
        SMatrix::<f64, 2, 3>::new(fx / z, 0.0, -fx * at.x / (z * z), 0.0, fy / z, -fy * at.y / (z * z));
    Some(bend * ideal_by_place)
}

/// Partial derivatives of the stored pixel by a point in space, and by the pose in the order of [`PosedCamera::cov`].
pub(crate) fn stored_by_point_and_pose(
    lens: &Lens,
    pose: &CameraPose,
    at: &Vector3<f64>,
) -> Option<(SMatrix<f64, 2, 3>, SMatrix<f64, 2, 6>)> {
    let turn = pose.turn();
    let in_camera = turn * (at - vector(pose.centre));
    let by_place = stored_by_place(lens, &in_camera)?;
    let by_point = by_place * turn.matrix();
    let mut by_pose = SMatrix::<f64, 2, 6>::zeros();
    by_pose.fixed_columns_mut::<3>(0).copy_from(&-(by_place * cross(&in_camera)));
    by_pose.fixed_columns_mut::<3>(3).copy_from(&-by_point);
    Some((by_point, by_pose))
}

/// Partial derivatives of the stored pixel by the lens terms, in the order of [`crate::LENS_TERMS`], for a fixed direction.
pub(crate) fn stored_by_lens(lens: &Lens, x: f64, y: f64) -> SMatrix<f64, 2, 9> {
    let r2 = x * x + y * y;
    let (fx, fy) = (lens.fx_px, lens.fy_px);
    let bent = lens.bent(x, y);
    let radial = |f: f64, value: f64| [f * value * r2, f * value * r2 * r2, f * value * r2 * r2 * r2];
    let ([kx1, kx2, kx3], [ky1, ky2, ky3]) = (radial(fx, x), radial(fy, y));
    let (px1, px2) = (fx * 2.0 * x * y, fx * (r2 + 2.0 * x * x));
    let (py1, py2) = (fy * (r2 + 2.0 * y * y), fy * 2.0 * x * y);
    SMatrix::<f64, 2, 9>::from_row_slice(&[
        bent[0], 0.0, 1.0, 0.0, kx1, kx2, kx3, px1, px2, //
        0.0, bent[1], 0.0, 1.0, ky1, ky2, ky3, py1, py2,
    ])
}

impl Ray {
    /// Where the ray meets a plane.
    ///
    /// # Errors
    /// [`GeometryError::View`] where the ray runs along the plane or meets it behind the camera.
    pub fn meets(&self, plane: &SpacePlane) -> Result<Crossing, GeometryError> {
        let normal = Vector3::from(plane.normal);
        let direction = Vector3::from(self.direction);
        let from = vector(self.from);
        let closing = normal.dot(&direction);
        let to_plane = normal.dot(&(vector(plane.through) - from));
        // A grazing ray, within a ten-thousandth of a radian, would meet the plane anywhere.
        if closing.abs() <= 1e-4 * normal.norm() * direction.norm() || !closing.is_finite() {
            return Err(GeometryError::View { why: "the line of sight runs along the plane".into() });
        }
        let depth_m = to_plane / closing;
        if depth_m <= 0.0 || !depth_m.is_finite() {
            return Err(GeometryError::View { why: "the plane lies behind the camera there".into() });
        }
        // Any change of the ray is followed by a slide along it, back into the plane.
        let slide = Matrix3::identity() - direction * normal.transpose() / closing;
        let mut by_pose = SMatrix::<f64, 3, 6>::zeros();
        by_pose.fixed_columns_mut::<3>(0).copy_from(&(slide * self.by_turn * depth_m));
        by_pose.fixed_columns_mut::<3>(3).copy_from(&slide);
        let by_pixel = slide * self.by_pixel * depth_m;
        let by_lens = slide * self.by_lens * depth_m + by_pose * self.pose_by_lens;
        Ok(Crossing {
            at: point(from + direction * depth_m),
            depth_m,
            by_pixel: rows(&by_pixel),
            by_pose: rows(&by_pose),
            by_lens: rows(&by_lens),
            by_shift: (direction * (normal.norm() / closing)).into(),
        })
    }
}

impl Crossing {
    /// What the mark's covariance brings along, m².
    #[must_use]
    pub fn mark_cov(&self, cov: &PixelCov) -> SpaceCov {
        carried(&self.by_pixel, &[[cov.xx, cov.xy], [cov.xy, cov.yy]])
    }

    /// What the pose's covariance brings along, m²; common to all marks of the camera.
    #[must_use]
    pub fn pose_cov(&self, camera: &PosedCamera) -> SpaceCov {
        carried(&self.by_pose, &camera.cov)
    }

    /// What the lens terms' covariance brings along, m², in the order of [`crate::LENS_TERMS`] and as given by
    /// [`crate::LensFile::covariance`]; common to all marks.
    #[must_use]
    pub fn lens_cov(&self, cov: &[[f64; 9]; 9]) -> SpaceCov {
        carried(&self.by_lens, cov)
    }
}

fn rows<const N: usize>(matrix: &SMatrix<f64, 3, N>) -> [[f64; N]; 3] {
    [0, 1, 2].map(|row| std::array::from_fn(|column| matrix[(row, column)]))
}

fn carried<const N: usize>(slopes: &[[f64; N]; 3], cov: &[[f64; N]; N]) -> SpaceCov {
    let slopes = SMatrix::<f64, 3, N>::from_fn(|row, column| slopes[row][column]);
    let cov = SMatrix::<f64, N, N>::from_fn(|row, column| cov[row][column]);
    SpaceCov(rows(&(slopes * cov * slopes.transpose())))
}

#[cfg(test)]
mod tests;
