//! The linear model of a patch: steepest-descent columns freed of gain, offset and change of blur, their normal matrix,
//! and the part of it that is only the template's noise.
//!
//! Baker & Matthews 2004 (Int. J. Computer Vision 56:221-255) for the inverse composition; the photometric unknowns are
//! projected out beforehand, which leaves the minimum of the zero-mean normalised squared difference where it is.

use super::options::{TextureOptions, Warp};
use super::sample::{CHUNK, products};
use nalgebra::{Matrix3, Matrix6, Vector3, Vector6};

/// Unknowns of the widest warp.
const MOST_UNKNOWNS: usize = 6;

/// The pixels of a patch: offsets from its centre, level and derivatives, one entry a pixel.
#[derive(Debug, Clone, Default)]
pub(super) struct Points {
    pub(super) u: Vec<f64>,
    pub(super) v: Vec<f64>,
    pub(super) level: Vec<f64>,
    pub(super) slope_x: Vec<f64>,
    pub(super) slope_y: Vec<f64>,
    /// Second derivatives xx, xy, yy.
    pub(super) bend: [Vec<f64>; 3],
}

impl Points {
    /// The points that are kept.
    pub(super) fn kept(&self, keep: &[bool]) -> Self {
        let pick = |column: &Vec<f64>| {
            column.iter().zip(keep).filter(|(_, keep)| **keep).map(|(entry, _)| *entry).collect::<Vec<f64>>()
        };
        Self {
            u: pick(&self.u),
            v: pick(&self.v),
            level: pick(&self.level),
            slope_x: pick(&self.slope_x),
            slope_y: pick(&self.slope_y),
            bend: [pick(&self.bend[0]), pick(&self.bend[1]), pick(&self.bend[2])],
        }
    }

    fn len(&self) -> usize {
        self.u.len()
    }
}

/// The model, ready for the search.
#[derive(Debug, Clone)]
pub(super) struct Columns {
    pub(super) n_points: usize,
    pub(super) n_unknowns: usize,
    /// Offsets, padded with zeros to whole chunks.
    pub(super) u: Vec<f32>,
    pub(super) v: Vec<f32>,
    /// Columns end to end, padded with zeros: unknowns, then level, one, and the bends, the latter of unit length and
    /// at right angles to each other.
    flat: Vec<f32>,
    n_photometric: usize,
    /// Length of the level's column, mean taken off.
    pub(super) level_length: f64,
    /// Sums of products of the unknowns' columns; ones on the diagonal of those not in use.
    pub(super) normal: Matrix6<f64>,
    pub(super) inverse: Matrix6<f64>,
    /// What white noise of unit slope variance adds to `normal`.
    pub(super) slope_noise: Matrix6<f64>,
    /// Squared length along the bends' columns that template noise of unit variance has by its own bends.
    bend_pull: f64,
    /// Pixels by which a unit of a shape unknown moves the patch's rim.
    pub(super) reach: f64,
}

/// What one evaluation of the picture says.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sums {
    /// Products with the unknowns' columns.
    pub(super) rhs: Vector6<f64>,
    /// Length of the picture along the template's level.
    pub(super) along_level: f64,
    /// Sum of squares with the mean taken off.
    pub(super) centred: f64,
    /// Sum of squares with gain and offset taken off.
    pub(super) unexplained: f64,
    /// The part of it that change of blur explains.
    pub(super) by_blur: f64,
}

impl Columns {
    /// `None` when the normal matrix cannot be inverted: no texture.
    pub(super) fn new(points: &Points, options: &TextureOptions) -> Option<Self> {
        let TextureOptions { warp, blur_change, interpolation, .. } = *options;
        let bend_at_pixel = interpolation.bend_at_pixel();
        let n_points = points.len();
        let n_unknowns = warp.n_unknowns();
        let reach = points.u.iter().chain(&points.v).fold(1.0_f64, |most, offset| most.max(offset.abs()));
        let lights = photometric(points, blur_change)?;
        let level_length = {
            let mean = points.level.iter().sum::<f64>() / n_points as f64;
            points.level.iter().map(|level| (level - mean).powi(2)).sum::<f64>().sqrt()
        };
        let mut unknowns: Vec<Vec<f64>> = (0..n_unknowns).map(|k| unknown(points, warp, k, reach)).collect();
        for column in &mut unknowns {
            lights.iter().for_each(|light| take_off(column, light));
        }
        let mut normal = Matrix6::identity();
        for j in 0..n_unknowns {
            for k in 0..n_unknowns {
                normal[(j, k)] = dot(&unknowns[j], &unknowns[k]);
            }
        }
        let inverse = normal.cholesky()?.inverse();
        let bend_pull = if blur_change { bend_pull(points, &lights[..2], bend_at_pixel) } else { 0.0 };
        let m = n_points.next_multiple_of(CHUNK);
        let mut flat = Vec::with_capacity(m * (n_unknowns + lights.len()));
        for column in unknowns.iter().chain(&lights) {
            flat.extend(padded(column, m));
        }
        Some(Self {
            n_points,
            n_unknowns,
            u: padded(&points.u, m).collect(),
            v: padded(&points.v, m).collect(),
            flat,
            n_photometric: lights.len(),
            level_length,
            normal,
            inverse,
            slope_noise: slope_noise(points, warp, reach),
            bend_pull,
            reach,
        })
    }

    /// Products of the picture's `values` (as long as `u`; the padding is cleared here) with every column.
    pub(super) fn sums(&self, values: &mut [f32]) -> Sums {
        values[self.n_points..].fill(0.0);
        let mut all = [0.0; MOST_UNKNOWNS + 5];
        products(values, &self.flat, &mut all);
        let mut square = [0.0];
        products(values, values, &mut square);
        let lights = &all[self.n_unknowns..self.n_unknowns + self.n_photometric];
        let mut rhs = Vector6::zeros();
        rhs.as_mut_slice()[..self.n_unknowns].copy_from_slice(&all[..self.n_unknowns]);
        let length2 = |lights: &[f64]| lights.iter().map(|light| light * light).sum::<f64>();
        Sums {
            rhs,
            along_level: lights[1],
            centred: square[0] - lights[0] * lights[0],
            unexplained: (square[0] - length2(&lights[..2])).max(0.0),
            by_blur: length2(&lights[2..]),
        }
    }

    /// Degrees of freedom of the residual, change of blur not counted.
    pub(super) fn dof(&self) -> f64 {
        self.n_points as f64 - self.n_unknowns as f64 - 2.0
    }

    /// What change of blur explains of pure noise: its share of the pixels' own, and, with a template whose noise has the
    /// variance `of_template`, what that noise explains of itself through its own second derivatives.
    pub(super) fn blur_of_noise(&self, of_pixel: f64, of_template: f64) -> f64 {
        (self.n_photometric as f64 - 2.0) * of_pixel + of_template * of_template * self.bend_pull
    }
}

/// Columns of gain, offset and change of blur, of unit length and at right angles: one, level, bends.
fn photometric(points: &Points, blur_change: bool) -> Option<Vec<Vec<f64>>> {
    let mut lights: Vec<Vec<f64>> = Vec::new();
    let bends = if blur_change { &points.bend[..] } else { &[] };
    let one = vec![1.0; points.len()];
    for (k, column) in std::iter::once(&one).chain(std::iter::once(&points.level)).chain(bends).enumerate() {
        let mut column = column.clone();
        let before = dot(&column, &column);
        // Twice, for what rounding leaves the first time.
        for _ in 0..2 {
            lights.iter().for_each(|light| take_off(&mut column, light));
        }
        let length2 = dot(&column, &column);
        if length2 <= 1e-10 * before || length2 <= 1e-12 {
            if k < 2 {
                return None;
            }
            continue;
        }
        column.iter_mut().for_each(|entry| *entry /= length2.sqrt());
        lights.push(column);
    }
    Some(lights)
}

/// How unknown `k` moves a point: (x, y) px per unit.
fn motion(warp: Warp, k: usize, u: f64, v: f64) -> (f64, f64) {
    match (warp, k) {
        (_, 0) => (1.0, 0.0),
        (_, 1) => (0.0, 1.0),
        (Warp::Similarity, 2) => (u, v),
        (Warp::Similarity, _) => (-v, u),
        (_, 2) => (u, 0.0),
        (_, 3) => (v, 0.0),
        (_, 4) => (0.0, u),
        _ => (0.0, v),
    }
}

fn unknown(points: &Points, warp: Warp, k: usize, reach: f64) -> Vec<f64> {
    let scale = if k < 2 { 1.0 } else { 1.0 / reach };
    (0..points.len())
        .map(|i| {
            let (x, y) = motion(warp, k, points.u[i], points.v[i]);
            scale * (points.slope_x[i] * x + points.slope_y[i] * y)
        })
        .collect()
}

fn slope_noise(points: &Points, warp: Warp, reach: f64) -> Matrix6<f64> {
    let n = warp.n_unknowns();
    let mut matrix = Matrix6::zeros();
    for i in 0..points.len() {
        let moved: Vec<(f64, f64)> = (0..n)
            .map(|k| {
                let scale = if k < 2 { 1.0 } else { 1.0 / reach };
                let (x, y) = motion(warp, k, points.u[i], points.v[i]);
                (scale * x, scale * y)
            })
            .collect();
        for j in 0..n {
            for k in 0..n {
                matrix[(j, k)] += moved[j].0 * moved[k].0 + moved[j].1 * moved[k].1;
            }
        }
    }
    matrix
}

/// See [`Columns::bend_pull`]; `bend_at_pixel` is the weight of a pixel in its own second derivative.
fn bend_pull(points: &Points, lights: &[Vec<f64>], bend_at_pixel: f64) -> f64 {
    let bends: Vec<Vec<f64>> = points
        .bend
        .iter()
        .map(|bend| {
            let mut bend = bend.clone();
            lights.iter().for_each(|light| take_off(&mut bend, light));
            bend
        })
        .collect();
    let matrix = Matrix3::from_fn(|j, k| dot(&bends[j], &bends[k]));
    let met = Vector3::new(bend_at_pixel, 0.0, bend_at_pixel) * points.len() as f64;
    matrix.cholesky().map_or(0.0, |root| met.dot(&root.solve(&met)))
}

fn take_off(column: &mut [f64], light: &[f64]) {
    let share = dot(column, light);
    column.iter_mut().zip(light).for_each(|(entry, along)| *entry -= share * along);
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[expect(clippy::cast_possible_truncation, reason = "columns are meant in single precision")]
fn padded(column: &[f64], m: usize) -> impl Iterator<Item = f32> {
    let n = column.len();
    column.iter().map(|&entry| entry as f32).chain(std::iter::repeat_n(0.0, m - n))
}
