//! Maps from a plane to its picture, and their fit by least squares.

use filmgauge_quantities::{PixelPoint, PlanePoint};
use nalgebra::{DMatrix, DVector, Matrix2, Matrix3, Vector3};

/// Rounds in which a homography's equations are weighed by its own denominators.
const ROUNDS: usize = 4;
/// Pivots below this share of the greatest fix nothing.
const LEAST_PIVOT: f64 = 1e-9;

/// From plane to picture, as a 3 x 3 matrix of homogeneous coordinates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ViewMap {
    matrix: Matrix3<f64>,
}

/// What is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    /// Shift, turn and scale; `is_flipped` where the plane's second axis runs up and the picture's down.
    Similarity {
        is_flipped: bool,
    },
    Homography,
}

impl Form {
    /// Fewest pairs that fix it.
    pub(super) fn fewest(self) -> usize {
        match self {
            Self::Similarity { .. } => 2,
            Self::Homography => 4,
        }
    }
}

impl ViewMap {
    /// The matrix, from (x, z, 1) in metres to the picture's homogeneous coordinates.
    pub(crate) fn matrix(&self) -> &Matrix3<f64> {
        &self.matrix
    }

    /// Where a point of the plane lies in the picture; `None` when it lies behind the camera.
    #[must_use]
    pub fn image_from_plane(&self, at: PlanePoint) -> Option<PixelPoint> {
        let seen = self.matrix * Vector3::new(at.x_m, at.z_m, 1.0);
        (seen.z > 0.0).then(|| PixelPoint::new(seen.x / seen.z, seen.y / seen.z))
    }

    /// Steps in the picture for a step of a metre along x and along z at a point: `[[x, y], [x, y]]`, px per m.
    pub(super) fn steps(&self, at: PlanePoint) -> Option<[[f64; 2]; 2]> {
        let m = &self.matrix;
        let w = m.m31 * at.x_m + m.m32 * at.z_m + m.m33;
        let seen = self.image_from_plane(at)?;
        let step = |a: f64, b: f64, c: f64| [(a - seen.x * c) / w, (b - seen.y * c) / w];
        Some([step(m.m11, m.m21, m.m31), step(m.m12, m.m22, m.m32)])
    }

    /// The affine map through three pairs; `None` when they lie on one line.
    pub(super) fn through_three(pairs: &[(PlanePoint, PixelPoint); 3]) -> Option<Self> {
        let [(p0, q0), (p1, q1), (p2, q2)] = *pairs;
        let (a, b) = (p1 - p0, p2 - p0);
        let from = Matrix2::new(a.x_m, b.x_m, a.z_m, b.z_m).try_inverse()?;
        let to = Matrix2::new(q1.x - q0.x, q2.x - q0.x, q1.y - q0.y, q2.y - q0.y);
        Some(Self::linear(to * from, p0, q0))
    }

    /// The similarity through two pairs; `None` when they lie in one place.
    pub(super) fn through_two(pairs: &[(PlanePoint, PixelPoint); 2], is_flipped: bool) -> Option<Self> {
        let [(p0, q0), (p1, q1)] = *pairs;
        let side = if is_flipped { -1.0 } else { 1.0 };
        let (x, z) = (p1.x_m - p0.x_m, side * (p1.z_m - p0.z_m));
        let (u, v, square) = (q1.x - q0.x, q1.y - q0.y, x * x + z * z);
        let (cos, sin) = ((u * x + v * z) / square, (v * x - u * z) / square);
        (square > 0.0).then(|| Self::linear(Matrix2::new(cos, -side * sin, sin, side * cos), p0, q0))
    }

    fn linear(steps: Matrix2<f64>, from: PlanePoint, to: PixelPoint) -> Self {
        let x = to.x - steps.m11 * from.x_m - steps.m12 * from.z_m;
        let y = to.y - steps.m21 * from.x_m - steps.m22 * from.z_m;
        Self { matrix: Matrix3::new(steps.m11, steps.m12, x, steps.m21, steps.m22, y, 0.0, 0.0, 1.0) }
    }

    /// The map of a form nearest to pairs of plane and picture; `None` where they do not fix it.
    pub(crate) fn fitted(form: Form, pairs: &[(PlanePoint, PixelPoint)]) -> Option<Self> {
        if pairs.len() < form.fewest() {
            return None;
        }
        // About the middle, in units of the spread: all terms are then of one size (Hartley 1997).
        let from = Normal::of(pairs.iter().map(|(at, _)| [at.x_m, at.z_m]))?;
        let to = Normal::of(pairs.iter().map(|(_, at)| [at.x, at.y]))?;
        let pairs: Vec<[f64; 4]> = pairs
            .iter()
            .map(|(plane, seen)| {
                let ([x, z], [u, v]) = (from.apply([plane.x_m, plane.z_m]), to.apply([seen.x, seen.y]));
                [x, z, u, v]
            })
            .collect();
        let mut terms = vec![0.0; 8];
        for _ in 0..if form == Form::Homography { ROUNDS } else { 1 } {
            terms = solved(form, &pairs, &terms)?;
        }
        let flat = matrix(form, &terms);
        let is_ahead = |pair: &[f64; 4]| flat.m31 * pair[0] + flat.m32 * pair[1] + 1.0 > 0.05;
        pairs.iter().all(is_ahead).then(|| Self { matrix: to.back() * flat * from.matrix() })
    }
}

fn matrix(form: Form, t: &[f64]) -> Matrix3<f64> {
    match form {
        Form::Similarity { is_flipped } => {
            let side = if is_flipped { -1.0 } else { 1.0 };
            Matrix3::new(t[0], -side * t[1], t[2], t[1], side * t[0], t[3], 0.0, 0.0, 1.0)
        }
        Form::Homography => Matrix3::new(t[0], t[1], t[2], t[3], t[4], t[5], t[6], t[7], 1.0),
    }
}

/// Least squares of the form's linear equations; `before` gives a homography's denominators.
fn solved(form: Form, pairs: &[[f64; 4]], before: &[f64]) -> Option<Vec<f64>> {
    let n_terms = 2 * form.fewest();
    let mut normal = DMatrix::<f64>::zeros(n_terms, n_terms);
    let mut rhs = DVector::<f64>::zeros(n_terms);
    for &[x, z, u, v] in pairs {
        let rows: [([f64; 8], f64); 2] = match form {
            Form::Similarity { is_flipped } => {
                let side = if is_flipped { -1.0 } else { 1.0 };
                [
                    ([x, -side * z, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0], u),
                    ([side * z, x, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0], v),
                ]
            }
            Form::Homography => [
                ([x, z, 1.0, 0.0, 0.0, 0.0, -x * u, -z * u], u),
                ([0.0, 0.0, 0.0, x, z, 1.0, -x * v, -z * v], v),
            ],
        };
        let denominator = if form == Form::Homography { before[6] * x + before[7] * z + 1.0 } else { 1.0 };
        let weight = (denominator * denominator).max(1e-3).recip();
        for (row, value) in rows {
            let row = DVector::from_row_slice(&row[..n_terms]);
            normal.ger(weight, &row, &row, 1.0);
            rhs.axpy(weight * value, &row, 1.0);
        }
    }
    let root = normal.cholesky()?;
    let pivots = root.l_dirty().diagonal();
    let is_fixed = pivots.min() > LEAST_PIVOT.sqrt() * pivots.max();
    let mut terms = is_fixed.then(|| root.solve(&rhs).as_slice().to_vec())?;
    terms.resize(8, 0.0);
    Some(terms)
}

/// Middle and spread of points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Normal {
    pub(crate) middle: [f64; 2],
    pub(crate) spread: f64,
}

impl Normal {
    pub(crate) fn of(points: impl Iterator<Item = [f64; 2]> + Clone) -> Option<Self> {
        let n = points.clone().count() as f64;
        let sum = points.clone().fold([0.0; 2], |sum, at| [sum[0] + at[0], sum[1] + at[1]]);
        let middle = sum.map(|sum| sum / n);
        let square: f64 = points.map(|at| (at[0] - middle[0]).powi(2) + (at[1] - middle[1]).powi(2)).sum();
        let spread = (square / n).sqrt();
        (spread > 0.0 && spread.is_finite()).then_some(Self { middle, spread })
    }

    pub(crate) fn apply(&self, at: [f64; 2]) -> [f64; 2] {
        [0, 1].map(|axis| (at[axis] - self.middle[axis]) / self.spread)
    }

    pub(crate) fn matrix(&self) -> Matrix3<f64> {
        let scale = self.spread.recip();
        let [x, y] = self.middle.map(|middle| -middle * scale);
        Matrix3::new(scale, 0.0, x, 0.0, scale, y, 0.0, 0.0, 1.0)
    }

    pub(crate) fn back(&self) -> Matrix3<f64> {
        Matrix3::new(self.spread, 0.0, self.middle[0], 0.0, self.spread, self.middle[1], 0.0, 0.0, 1.0)
    }
}
