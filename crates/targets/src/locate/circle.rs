//! A circle seen at a slant: the middle of its picture is not the picture of its middle.

use crate::error::{TargetsError, require_all};
use filmgauge_quantities::{PixelCov, PixelPoint};

/// Least cosine of the angle between the line of sight and the plate's normal: beyond 84 degrees nothing is to be seen.
const LEAST_COSINE: f64 = 0.1;

/// How a plate with circular edges lies before the camera. The camera's axes: x right, y down, z forward.
#[derive(Debug, Clone, PartialEq)]
pub struct CirclePose {
    /// Focal length, px; above 0.
    pub focal_px: f64,
    /// Where the optical axis meets the picture, px.
    pub axis: PixelPoint,
    /// Normal of the plate in the camera's axes; any length, either side.
    pub normal: [f64; 3],
    /// Radius of each circular edge in the window over the plate's distance along the optical axis; 0 to 0.5. A disc has
    /// one, a ring two. A cross gives the half-width of its bars. None for a quadrant, whose crossing is a crossing from
    /// anywhere.
    pub edges: Vec<f64>,
    /// Standard uncertainty of the correction as a share of it (0 to 1): twice the distance's relative uncertainty and
    /// the slant's, say; for a ring at least 0.08, since the shading
    /// that is fitted along weighs its two edges unlike.
    pub u_share: f64,
}

impl CirclePose {
    /// Whether every figure is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        let length = self.normal.iter().map(|n| n * n).sum::<f64>().sqrt();
        require_all(&[
            ("focal_px", self.focal_px, f64::MIN_POSITIVE..=1e7, "it must be above 0 px"),
            ("normal", length, 1e-9..=1e9, "it must have a length"),
            ("u_share", self.u_share, 0.0..=1.0, "it must be 0 to 1"),
        ])?;
        self.edges
            .iter()
            .try_for_each(|&edge| require_all(&[("edges", edge, 0.0..=0.5, "each must be 0 to 0.5")]))
    }

    /// The picture of the circles' middle, px, from the middle of their picture, and the doubt of that correction.
    ///
    /// The picture of a circle of radius ρ (over its distance) about the ray (x, y, 1) with the unit normal n is the
    /// ellipse about the pole of the line at infinity, `X - ρ² (e_z - n n_z)`, exactly (from the dual conic; to first
    /// order Ahn, Warnecke & Kotowski 1999, Photogrammetric Record 16:485-502). Several edges weigh by their length.
    #[must_use]
    pub fn middle_of(&self, seen: PixelPoint) -> (PixelPoint, PixelCov) {
        let [nx, ny, nz] = self.unit_normal();
        let (mut weights, mut scale, mut shift) = (0.0, 0.0, 0.0);
        for &edge in &self.edges {
            let square = edge * edge;
            let depth = 1.0 - square * (1.0 - nz * nz);
            weights += edge;
            scale += edge / depth;
            shift += edge * square / depth;
        }
        if weights <= 0.0 {
            return (seen, PixelCov { xx: 0.0, xy: 0.0, yy: 0.0 });
        }
        let along = |seen: f64, axis: f64, n: f64| {
            axis + ((seen - axis) * weights - self.focal_px * shift * n * nz) / scale
        };
        let middle = PixelPoint::new(along(seen.x, self.axis.x, nx), along(seen.y, self.axis.y, ny));
        let (dx, dy) = (self.u_share * (middle.x - seen.x), self.u_share * (middle.y - seen.y));
        (middle, PixelCov { xx: dx * dx, xy: dx * dy, yy: dy * dy })
    }

    /// How much shorter a circle seen at `at` looks along its shortest direction than along its longest, and that
    /// direction in the picture; `None` edge on.
    ///
    /// Near the centre the plate's unit circle becomes the ellipse of `P (I - n n') P'`, P taking away the ray's part along z.
    pub(super) fn slant(&self, at: PixelPoint) -> Option<(f64, (f64, f64))> {
        let n = self.unit_normal();
        let ray = [(at.x - self.axis.x) / self.focal_px, (at.y - self.axis.y) / self.focal_px];
        let seen = [n[0] - ray[0] * n[2], n[1] - ray[1] * n[2]];
        let of = |i: usize, j: usize| f64::from(u8::from(i == j)) + ray[i] * ray[j] - seen[i] * seen[j];
        let (xx, xy, yy) = (of(0, 0), of(0, 1), of(1, 1));
        let (half, apart) = (f64::midpoint(xx, yy), ((xx - yy) / 2.0).hypot(xy));
        let squeeze = ((half - apart) / (half + apart)).max(0.0).sqrt();
        // The longest direction is at half the angle of (xx - yy, 2 xy); the shortest stands on it.
        let (sin, cos) = (0.5 * (2.0 * xy).atan2(xx - yy)).sin_cos();
        (squeeze >= LEAST_COSINE).then_some((squeeze, (-sin, cos)))
    }

    fn unit_normal(&self) -> [f64; 3] {
        let length = self.normal.iter().map(|n| n * n).sum::<f64>().sqrt().max(1e-12);
        self.normal.map(|n| n / length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pose(edges: &[f64], normal: [f64; 3]) -> CirclePose {
        let axis = PixelPoint::new(640.0, 360.0);
        CirclePose { focal_px: 2500.0, axis, normal, edges: edges.to_vec(), u_share: 0.1 }
    }

    /// Middle of the ellipse through the pictures of 360 points of a circle.
    fn pictured(pose: &CirclePose, ray: [f64; 2], radius: f64) -> PixelPoint {
        let [nx, ny, nz] = pose.unit_normal();
        let first = {
            let l = nz.hypot(nx);
            [nz / l, 0.0, -nx / l]
        };
        let second =
            [ny * first[2] - nz * first[1], nz * first[0] - nx * first[2], nx * first[1] - ny * first[0]];
        let mut normal = nalgebra::SMatrix::<f64, 5, 5>::zeros();
        let mut rhs = nalgebra::SVector::<f64, 5>::zeros();
        for k in 0..360 {
            let (sin, cos) = f64::from(k).to_radians().sin_cos();
            let at = |i: usize, centre: f64| centre + radius * (cos * first[i] + sin * second[i]);
            let z = at(2, 1.0);
            let (x, y) = (1e2 * (at(0, ray[0]) / z - ray[0]), 1e2 * (at(1, ray[1]) / z - ray[1]));
            let row = nalgebra::SVector::<f64, 5>::from([x * x, x * y, y * y, x, y]);
            normal += row * row.transpose();
            rhs += row;
        }
        let [a, b, c, d, e]: [f64; 5] = (normal.try_inverse().unwrap() * rhs).into();
        let determinant = 4.0 * a * c - b * b;
        let (x, y) = ((b * e - 2.0 * c * d) / determinant, (b * d - 2.0 * a * e) / determinant);
        PixelPoint::new(
            pose.axis.x + pose.focal_px * (ray[0] + x / 1e2),
            pose.axis.y + pose.focal_px * (ray[1] + y / 1e2),
        )
    }

    #[test]
    fn the_correction_is_exact_anywhere_in_the_picture() {
        for (normal, ray) in
            [([0.7, 0.1, 0.7], [0.0, 0.0]), ([-0.3, 0.6, -0.8], [0.2, -0.1]), ([0.0, 0.0, 1.0], [0.1, 0.1])]
        {
            let pose = pose(&[0.02], normal);
            let seen = pictured(&pose, ray, 0.02);
            let (middle, _) = pose.middle_of(seen);
            let truth = PixelPoint::new(640.0 + 2500.0 * ray[0], 360.0 + 2500.0 * ray[1]);
            assert!(middle.distance(truth) < 1e-4, "{normal:?}: {middle:?} {truth:?}");
        }
    }

    /// Radius 100 mm at 5 m, slant 45°, focal length 2500 px: f r² sin w cos w / Z² = 0.500 px (Ahn et al. 1999).
    #[test]
    fn the_known_case_is_half_a_pixel() {
        let tilt = 45.0_f64.to_radians();
        let pose = pose(&[0.02], [tilt.sin(), 0.0, tilt.cos()]);
        let (middle, doubt) = pose.middle_of(pose.axis);
        assert!((pose.axis.x - middle.x - 0.5).abs() < 1e-3 && (pose.axis.y - middle.y).abs() < 1e-12);
        assert!((doubt.xx.sqrt() - 0.05).abs() < 1e-4 && doubt.yy.abs() < 1e-12);
        let none = CirclePose { edges: Vec::new(), ..pose.clone() };
        assert_eq!(none.middle_of(pose.axis).0, pose.axis);
    }

    /// Computed from the stated formula: on the axis the cosine; where the ray lies along the normal, a circle.
    #[test]
    fn the_slant_is_that_of_the_line_of_sight() {
        let tilt = 30.0_f64.to_radians();
        let pose = pose(&[0.02], [tilt.sin(), 0.0, tilt.cos()]);
        let (squeeze, direction) = pose.slant(pose.axis).unwrap();
        assert!((squeeze - tilt.cos()).abs() < 1e-12 && direction.1.abs() < 1e-9);
        // Along the normal the line of sight meets the plate squarely; the picture's plane stretches it by 1 / cos.
        let along = PixelPoint::new(640.0 + 2500.0 * tilt.tan(), 360.0);
        let (squeeze, _) = pose.slant(along).unwrap();
        assert!((squeeze - tilt.cos()).abs() < 1e-12, "{squeeze}");
    }

    #[test]
    fn figures_out_of_range_are_named() {
        assert!(pose(&[0.02], [0.0, 0.0, 1.0]).check().is_ok());
        let flat = pose(&[0.02], [0.0, 0.0, 0.0]).check().unwrap_err().to_string();
        assert!(flat.contains("normal"), "{flat}");
        assert!(pose(&[0.7], [0.0, 0.0, 1.0]).check().is_err());
        assert!(pose(&[f64::NAN], [0.0, 0.0, 1.0]).check().is_err());
        assert!(pose(&[0.02], [1.0, 0.0, 0.01]).slant(PixelPoint::new(640.0, 360.0)).is_none());
    }
}
