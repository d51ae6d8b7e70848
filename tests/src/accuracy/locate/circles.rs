//! Discs and rings projected exactly at a slant: what is left of the eccentricity with and without the pose.

use anyhow::{Context, Result};
use filmgauge_quantities::{GreyImage, PixelPoint, TargetKind};
use filmgauge_targets::{CirclePose, LocateOptions, TargetHint, locate_target};

const FOCAL_PX: f64 = 2500.0;
const DISTANCE_M: f64 = 5.0;
const SIDE: usize = 160;
/// Inner radius of a ring, of its radius.
const RING_INNER: f64 = 0.5;
/// Points along each side of a pixel.
const FINE: usize = 16;

/// One circle before the camera.
#[derive(Debug, Clone, Copy)]
pub struct CircleCase {
    /// Disc or ring.
    pub kind: TargetKind,
    /// Radius, mm.
    pub radius_mm: f64,
    /// Angle between the plate's normal and the optical axis.
    pub slant_deg: f64,
    /// How far from the optical axis it is seen, along the direction of the slant and across, px.
    pub off_axis_px: f64,
}

/// Distance from the true centre, px.
#[derive(Debug, Clone, Copy)]
pub struct CircleError {
    /// As a target that faces the camera.
    pub without_pose_px: f64,
    /// With the pose.
    pub with_pose_px: f64,
}

impl CircleCase {
    /// The cases of the table.
    #[must_use]
    pub fn table() -> Vec<Self> {
        let mut cases = Vec::new();
        for kind in [TargetKind::Disc, TargetKind::Ring] {
            for (radius_mm, slant_deg) in [(50.0, 20.0), (50.0, 45.0), (100.0, 20.0), (100.0, 45.0)] {
                cases.extend([0.0, 400.0].map(|off_axis_px| Self {
                    kind,
                    radius_mm,
                    slant_deg,
                    off_axis_px,
                }));
            }
        }
        cases
    }

    /// Errors with and without the pose.
    ///
    /// # Errors
    /// When the target is not found at all.
    pub fn error(&self) -> Result<CircleError> {
        let scene = Projected::of(self);
        let image = scene.picture()?;
        let near = scene.centre.moved(0.4, -0.3);
        let options = LocateOptions::default();
        let hint = TargetHint::new(self.kind, scene.longest_px());
        let plain = locate_target(&image.view(), near, &hint, &options).context("without the pose")?;
        let edges = match self.kind {
            TargetKind::Ring => vec![scene.radius, RING_INNER * scene.radius],
            _ => vec![scene.radius],
        };
        let pose =
            CirclePose { focal_px: FOCAL_PX, axis: scene.axis, normal: scene.normal, edges, u_share: 0.0 };
        let posed = TargetHint { pose: Some(pose), ..hint };
        let found = locate_target(&image.view(), near, &posed, &options).context("with the pose")?;
        Ok(CircleError {
            without_pose_px: plain.centre.distance(scene.centre),
            with_pose_px: found.centre.distance(scene.centre),
        })
    }
}

/// A plate at distance 1 along the optical axis.
struct Projected {
    kind: TargetKind,
    centre: PixelPoint,
    /// Where the optical axis meets the picture, which is cut out of a larger one.
    axis: PixelPoint,
    ray: [f64; 2],
    normal: [f64; 3],
    radius: f64,
}

impl Projected {
    fn of(case: &CircleCase) -> Self {
        let (sin, cos) = case.slant_deg.to_radians().sin_cos();
        // The slant's direction in the picture, so that no axis is special.
        let (across, along) = 0.4_f64.sin_cos();
        let centre = PixelPoint::new(SIDE as f64 / 2.0 + 0.27, SIDE as f64 / 2.0 - 0.36);
        let ray = [case.off_axis_px / FOCAL_PX; 2];
        Self {
            kind: case.kind,
            centre,
            axis: centre.moved(-FOCAL_PX * ray[0], -FOCAL_PX * ray[1]),
            ray,
            normal: [sin * along, sin * across, cos],
            radius: case.radius_mm / 1000.0 / DISTANCE_M,
        }
    }

    /// Longest radius in the picture, px, from places along the edge.
    fn longest_px(&self) -> f64 {
        let [nx, ny, nz] = self.normal;
        let length = nx.hypot(nz);
        let first = [nz / length, 0.0, -nx / length];
        let second = [ny * first[2], nz * first[0] - nx * first[2], -ny * first[0]];
        let place = |k: i32| {
            let (sin, cos) = f64::from(k).to_radians().sin_cos();
            let at = |i: usize, centre: f64| centre + self.radius * (cos * first[i] + sin * second[i]);
            let z = at(2, 1.0);
            let x = self.axis.x + FOCAL_PX * at(0, self.ray[0]) / z;
            PixelPoint::new(x, self.axis.y + FOCAL_PX * at(1, self.ray[1]) / z).distance(self.centre)
        };
        (0..360).map(place).fold(0.0, f64::max)
    }

    /// Whether the plate is dark where a place of the picture looks at it.
    fn is_dark(&self, x: f64, y: f64) -> bool {
        let look = [(x - self.axis.x) / FOCAL_PX, (y - self.axis.y) / FOCAL_PX, 1.0];
        let middle = [self.ray[0], self.ray[1], 1.0];
        let dot = |a: &[f64; 3]| a.iter().zip(&self.normal).map(|(a, n)| a * n).sum::<f64>();
        let depth = dot(&middle) / dot(&look);
        let square: f64 =
            look.iter().zip(&middle).map(|(look, middle)| (depth * look - middle).powi(2)).sum();
        let r = square.sqrt() / self.radius;
        r < 1.0 && (self.kind == TargetKind::Disc || r > RING_INNER)
    }

    /// 16 bits, softened by a Gaussian over pixels, which moves nothing.
    fn picture(&self) -> Result<GreyImage> {
        let share = |x: usize, y: usize| {
            let fine = |k: usize| (k as f64 + 0.5) / FINE as f64 - 0.5;
            let n = (0..FINE * FINE)
                .filter(|k| self.is_dark(x as f64 + fine(k % FINE), y as f64 + fine(k / FINE)))
                .count();
            n as f64 / (FINE * FINE) as f64
        };
        let mut dark: Vec<f64> = (0..SIDE * SIDE).map(|i| share(i % SIDE, i / SIDE)).collect();
        for stride in [1, SIDE] {
            dark = softened(&dark, stride);
        }
        let samples = dark.iter().map(|dark| (50_000.0 - 38_000.0 * dark).round() as u16).collect();
        Ok(GreyImage::from_u16(SIDE, SIDE, 16, samples)?)
    }
}

/// One pass of a Gaussian of 0.7 px; beyond the border the nearest sample counts.
fn softened(levels: &[f64], stride: usize) -> Vec<f64> {
    let taps = [-3_i64, -2, -1, 0, 1, 2, 3].map(|k| (k, (-0.5 * (k as f64 / 0.7).powi(2)).exp()));
    let sum: f64 = taps.iter().map(|(_, weight)| weight).sum();
    let at = |index: i64| levels[usize::try_from(index.clamp(0, levels.len() as i64 - 1)).unwrap_or(0)];
    (0..levels.len() as i64)
        .map(|i| taps.iter().map(|(k, weight)| weight * at(i + k * stride as i64)).sum::<f64>() / sum)
        .collect()
}
