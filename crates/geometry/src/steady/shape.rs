//! The shapes that a frame's step may have, from a plain shift to a change of perspective, each with few numbers.

use crate::Lens;
use filmgauge_quantities::PixelPoint;
use nalgebra::{Matrix2, SMatrix, Vector2};

/// Most numbers that a step has.
pub(super) const MOST: usize = 8;
/// Central differences for slopes: this far in lengths, px, and in angles and shares.
const NUDGE_PX: f64 = 1e-3;
const NUDGE_SHARE: f64 = 1e-6;
/// Rounds of the inverse; a step is nearly linear, so that three suffice.
const INVERSE_ROUNDS: usize = 20;

/// How the pictures of one film lie against each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SteadyModel {
    /// A shift.
    Shift,
    /// A shift and a turn: film in a gate.
    Turn,
    /// A shift, a turn and a change of size: film that shrinks, a lens that breathes.
    Zoom,
    /// A camera that swings about its pupil: pan, tilt and roll. Places are ideal pixels, without distortion.
    Swing {
        /// Focal lengths along rows and columns, px.
        focal_px: [f64; 2],
        /// Principal point.
        centre: PixelPoint,
    },
    /// Any change of perspective of a plane.
    Plane,
}

impl SteadyModel {
    /// The swing of a camera with this lens.
    #[must_use]
    pub fn swing(lens: &Lens) -> Self {
        Self::Swing { focal_px: [lens.fx_px, lens.fy_px], centre: PixelPoint::new(lens.cx_px, lens.cy_px) }
    }

    /// Its name, in words for the table.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            Self::Shift => "shift",
            Self::Turn => "shift and turn",
            Self::Zoom => "shift, turn and size",
            Self::Swing { .. } => "swing of the camera",
            Self::Plane => "change of perspective",
        }
    }

    /// How many numbers it has: first the shift to the right and down, px, then the turn, rad.
    #[must_use]
    pub fn n_values(&self) -> usize {
        match self {
            Self::Shift => 2,
            Self::Turn | Self::Swing { .. } => 3,
            Self::Zoom => 4,
            Self::Plane => 8,
        }
    }
}

/// A model about the middle of the marks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shape {
    pub(super) model: SteadyModel,
    /// What a turn is about.
    pub(super) pivot: PixelPoint,
    /// Distance over which the numbers of a change of perspective are felt, px.
    pub(super) arm_px: f64,
}

/// Values of a step: shift x, shift y, turn, then what the model has besides.
pub(super) type Values = [f64; MOST];

impl Shape {
    /// Where a point of the reference frame lies after the step.
    pub(super) fn place(&self, values: &Values, at: PixelPoint) -> PixelPoint {
        let (x, y) = (at.x - self.pivot.x, at.y - self.pivot.y);
        let [dx, dy, turn, ..] = *values;
        let (sin, cos) = turn.sin_cos();
        match self.model {
            SteadyModel::Shift => at.moved(dx, dy),
            SteadyModel::Turn => self.pivot.moved(dx + x * cos - y * sin, dy + x * sin + y * cos),
            SteadyModel::Zoom => {
                let size = 1.0 + values[3];
                self.pivot.moved(dx + size * (x * cos - y * sin), dy + size * (x * sin + y * cos))
            }
            SteadyModel::Swing { focal_px, centre } => self.swung(values, at, focal_px, centre),
            SteadyModel::Plane => {
                let (u, v) = (x / self.arm_px, y / self.arm_px);
                let far = 1.0 + values[6] * u + values[7] * v;
                let right = x + dx + values[3] * u - turn * y;
                let down = y + dy + turn * x + values[4] * u + values[5] * v;
                self.pivot.moved(right / far, down / far)
            }
        }
    }

    /// Roll about the ray through the pivot, then pan and tilt that carry the pivot by the shift.
    fn swung(&self, values: &Values, at: PixelPoint, focal_px: [f64; 2], centre: PixelPoint) -> PixelPoint {
        let ray = |place: PixelPoint| {
            let ray = nalgebra::Vector3::new(
                (place.x - centre.x) / focal_px[0],
                (place.y - centre.y) / focal_px[1],
                1.0,
            );
            nalgebra::Unit::new_normalize(ray)
        };
        let (from, to) = (ray(self.pivot), ray(self.pivot.moved(values[0], values[1])));
        let roll = nalgebra::Rotation3::from_axis_angle(&from, values[2]);
        let carry = nalgebra::Rotation3::rotation_between(&from, &to).unwrap_or_default();
        let seen = carry * (roll * ray(at).into_inner());
        PixelPoint::new(centre.x + focal_px[0] * seen.x / seen.z, centre.y + focal_px[1] * seen.y / seen.z)
    }

    /// Slopes of the place by the model's numbers.
    pub(super) fn by_values(&self, values: &Values, at: PixelPoint) -> SMatrix<f64, 2, MOST> {
        let mut slopes = SMatrix::zeros();
        for k in 0..self.model.n_values() {
            let nudge = if self.is_length(k) { NUDGE_PX } else { NUDGE_SHARE };
            let with = |by: f64| {
                let mut moved = *values;
                moved[k] += by;
                self.place(&moved, at)
            };
            let (ahead, behind) = (with(nudge), with(-nudge));
            slopes[(0, k)] = (ahead.x - behind.x) / (2.0 * nudge);
            slopes[(1, k)] = (ahead.y - behind.y) / (2.0 * nudge);
        }
        slopes
    }

    /// Whether the k-th number is a length in px.
    fn is_length(&self, k: usize) -> bool {
        k < 2 || (self.model == SteadyModel::Plane && (3..6).contains(&k))
    }

    /// Slopes of the place by the point.
    pub(super) fn by_point(&self, values: &Values, at: PixelPoint) -> Matrix2<f64> {
        let along = |x: f64, y: f64| {
            let (ahead, behind) = (self.place(values, at.moved(x, y)), self.place(values, at.moved(-x, -y)));
            Vector2::new(ahead.x - behind.x, ahead.y - behind.y) / (2.0 * NUDGE_PX)
        };
        Matrix2::from_columns(&[along(NUDGE_PX, 0.0), along(0.0, NUDGE_PX)])
    }

    /// The point of the reference frame that the step brings to `here`; `None` where the step has no inverse.
    pub(super) fn back(&self, values: &Values, here: PixelPoint) -> Option<PixelPoint> {
        let mut at = here.moved(-values[0], -values[1]);
        for _ in 0..INVERSE_ROUNDS {
            let seen = self.place(values, at);
            let miss = Vector2::new(here.x - seen.x, here.y - seen.y);
            let step = self.by_point(values, at).try_inverse()? * miss;
            at = at.moved(step.x, step.y);
            if !(at.x.is_finite() && at.y.is_finite()) {
                return None;
            }
            if step.norm() < 1e-10 {
                break;
            }
        }
        Some(at)
    }
}
