//! Pose of the grid before the camera, and the picture of one of its points with all derivatives.

use crate::Lens;
use crate::camera::{ideal_of, stored_by_lens, stored_by_place};
use crate::rigid::cross;
use filmgauge_quantities::PixelPoint;
use nalgebra::{Rotation3, SMatrix, Vector3};

/// A point X of the grid lies at `turn` X + `at`, camera axes x right, y down, z ahead, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pose {
    /// From the axes of the grid to those of the camera.
    pub(super) turn: Rotation3<f64>,
    /// The grid's first corner in the camera's axes, m.
    pub(super) at: Vector3<f64>,
}

impl Pose {
    /// Normal of the grid in the camera's axes.
    pub(super) fn normal(&self) -> Vector3<f64> {
        self.turn.matrix().column(2).into_owned()
    }

    /// Turned by a small rotation vector `step[0..3]`, rad, and moved by `step[3..6]`, m.
    pub(super) fn stepped(&self, step: &SMatrix<f64, 6, 1>) -> Self {
        let turn = Rotation3::new(Vector3::new(step[0], step[1], step[2])) * self.turn;
        Self { turn, at: self.at + Vector3::new(step[3], step[4], step[5]) }
    }
}

/// The stored pixel of a point of the grid; `None` behind the camera.
pub(super) fn pictured(lens: &Lens, pose: &Pose, point: [f64; 2]) -> Option<PixelPoint> {
    let place = pose.turn * Vector3::new(point[0], point[1], 0.0) + pose.at;
    ideal_of(lens, &place).map(|ideal| lens.distort(ideal))
}

/// The picture of a point, and its derivatives by the lens terms (order of `LENS_TERMS`) and by the pose's step.
pub(super) struct Slopes {
    pub(super) at: PixelPoint,
    pub(super) by_lens: SMatrix<f64, 2, 9>,
    pub(super) by_pose: SMatrix<f64, 2, 6>,
}

/// As [`pictured`], with derivatives.
pub(super) fn slopes(lens: &Lens, pose: &Pose, point: [f64; 2]) -> Option<Slopes> {
    let turned = pose.turn * Vector3::new(point[0], point[1], 0.0);
    let place = turned + pose.at;
    let at = lens.distort(ideal_of(lens, &place)?);
    let by_lens = stored_by_lens(lens, place.x / place.z, place.y / place.z);
    let by_place = stored_by_place(lens, &place)?;
    let mut by_pose = SMatrix::<f64, 2, 6>::zeros();
    by_pose.fixed_columns_mut::<3>(0).copy_from(&-(by_place * cross(&turned)));
    by_pose.fixed_columns_mut::<3>(3).copy_from(&by_place);
    Some(Slopes { at, by_lens, by_pose })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lens_file::{from_terms, terms};

    #[test]
    fn slopes_agree_with_differences() {
        let lens = Lens {
            fy_px: 531.0,
            k1: -0.28,
            k2: 0.1,
            k3: -0.02,
            p1: 1e-3,
            p2: -5e-4,
            ..Lens::pinhole(533.0, 342.0, 234.0)
        };
        let pose =
            Pose { turn: Rotation3::new(Vector3::new(0.3, -0.4, 0.1)), at: Vector3::new(-0.1, -0.06, 0.4) };
        let point = [0.125, 0.05];
        let exact = slopes(&lens, &pose, point).unwrap();
        assert!(exact.at.distance(pictured(&lens, &pose, point).unwrap()) < 1e-12);
        let difference = |ahead: PixelPoint, behind: PixelPoint, h: f64| {
            [(ahead.x - behind.x) / (2.0 * h), (ahead.y - behind.y) / (2.0 * h)]
        };
        let h = 1e-6;
        for term in 0..9 {
            let moved = |by: f64| {
                let mut values = terms(&lens);
                values[term] += by;
                pictured(&from_terms(values), &pose, point).unwrap()
            };
            let [dx, dy] = difference(moved(h), moved(-h), h);
            assert!(
                (dx - exact.by_lens[(0, term)]).abs() < 1e-4 && (dy - exact.by_lens[(1, term)]).abs() < 1e-4,
                "{term}"
            );
        }
        for k in 0..6 {
            let moved = |by: f64| {
                let mut step = SMatrix::<f64, 6, 1>::zeros();
                step[k] = by;
                pictured(&lens, &pose.stepped(&step), point).unwrap()
            };
            let [dx, dy] = difference(moved(h), moved(-h), h);
            assert!(
                (dx - exact.by_pose[(0, k)]).abs() < 1e-3 && (dy - exact.by_pose[(1, k)]).abs() < 1e-3,
                "{k}"
            );
        }
    }
}
