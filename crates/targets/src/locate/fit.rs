//! Least squares on the differences of opposite pixels: two unknowns for the centre, two for a linear
//! shading; the covariance from the residual, freed of what noise in the slopes adds.

use super::pairs::{Pairing, Pairs};
use super::window::{Levels, Window};
use super::{LocateFailure, LocateOptions, Located};
use filmgauge_quantities::{PixelCov, PixelPoint};
use nalgebra::{Matrix4, SMatrix, SVector, Vector4};

/// The pixels of the window are chosen anew when the centre has moved this far from where they were chosen, px.
const RESELECT_PX: f64 = 0.2;

/// Longest single step, px.
const LONGEST_STEP_PX: f64 = 1.0;

/// Upper 5 % point of χ² with 4 degrees of freedom (closed form: the root of (1 + x/2) exp(-x/2) = 0.05).
const CHI2_95_OF_4: f64 = 9.488;

/// Moves the centre until it stays, then weighs what is left.
pub(super) fn settle(
    window: &Window,
    start: PixelPoint,
    levels: &Levels,
    options: &LocateOptions,
) -> Result<Located, LocateFailure> {
    let pairing = Pairing::new(window);
    let (mut centre, mut selection) = (start, start);
    for iteration in 1..=options.most_iterations {
        if centre.distance(selection) > RESELECT_PX {
            selection = centre;
        }
        if !window.holds(selection) || !window.holds(centre) {
            return Err(LocateFailure::NoConvergence);
        }
        let pairs = pairing.about(centre, selection);
        let normal = Normal::of(&pairs, options.noise_floor_grey);
        let Some(step) = normal.step() else {
            return Err(no_contrast(levels, normal.residual));
        };
        let length = step.0.hypot(step.1);
        let shorten = (LONGEST_STEP_PX / length.max(1e-12)).min(1.0);
        centre = centre.moved(step.0 * shorten, step.1 * shorten);
        if length < options.stop_px {
            return weigh(window, centre, &pairs, &normal, levels, iteration, options);
        }
    }
    Err(LocateFailure::NoConvergence)
}

/// Normal equations of the four unknowns: centre x, centre y, shading along x and along y.
struct Normal {
    /// Sum of squares and products of the columns, freed of the noise in the slopes.
    matrix: Matrix4<f64>,
    /// Right-hand side, freed likewise.
    rhs: Vector4<f64>,
    /// Standard deviation of one pixel from the residual, grey levels, not below the floor.
    residual: f64,
    /// Degrees of freedom of that, each pair of pixels counted once.
    dof: f64,
    /// What noise in the slopes meets of noise in the differences, in the units of the matrix (along x, along y).
    unrest: (f64, f64),
}

impl Normal {
    fn of(pairs: &Pairs, floor: f64) -> Self {
        let mut matrix = Matrix4::zeros();
        let mut rhs = Vector4::zeros();
        let mut squares = 0.0;
        for pair in &pairs.pairs {
            let row = [pair.slope_x, pair.slope_y, -2.0 * pair.dx, -2.0 * pair.dy];
            gather(&mut matrix, &mut rhs, &row, -pair.difference);
            squares += pair.difference * pair.difference;
        }
        matrix.fill_upper_triangle_with_lower_triangle();
        // Var(difference) = s² (1 + gain); every pair is met from both of its ends, so that a fitted
        // unknown takes 4 s² and half the samples are news.
        let n_pairs = pairs.pairs.len() as f64;
        let (gx, gy) = pairs.opposite;
        let gain = 1.0 + gx.value * gy.value;
        let explained = matrix.cholesky().map_or(0.0, |root| rhs.dot(&root.solve(&rhs)));
        let residual2 = (squares - explained).max(0.0) / (n_pairs * gain - 16.0).max(1.0);
        let residual = residual2.sqrt().max(floor);
        let at_pixel = pairs.at_pixel.slope * pairs.at_pixel.value;
        let noise = n_pairs * residual * residual;
        let slope_noise =
            (noise * (at_pixel + gx.slope * gy.value), noise * (at_pixel + gx.value * gy.slope));
        matrix[(0, 0)] -= slope_noise.0;
        matrix[(1, 1)] -= slope_noise.1;
        matrix[(0, 1)] -= noise * gx.mixed * gy.mixed;
        matrix[(1, 0)] -= noise * gx.mixed * gy.mixed;
        rhs[0] += noise * gx.mixed * gy.value;
        rhs[1] += noise * gx.value * gy.mixed;
        let unrest = (slope_noise.0 * gain / 2.0, slope_noise.1 * gain / 2.0);
        Self { matrix, rhs, residual, dof: n_pairs / 2.0 - 4.0, unrest }
    }

    /// The step of the centre; `None` when the edges do not fix it.
    fn step(&self) -> Option<(f64, f64)> {
        if self.dof < 2.0 {
            return None;
        }
        let step = self.matrix.cholesky()?.solve(&self.rhs);
        step.iter().all(|s| s.is_finite()).then_some((step[0], step[1]))
    }
}

/// Adds one row to normal equations; the matrix in its lower triangle only.
fn gather<const N: usize>(
    matrix: &mut SMatrix<f64, N, N>,
    rhs: &mut SVector<f64, N>,
    row: &[f64; N],
    value: f64,
) {
    for (j, at_j) in row.iter().enumerate() {
        rhs[j] += at_j * value;
        for (i, at_i) in row.iter().enumerate().skip(j) {
            matrix[(i, j)] += at_i * at_j;
        }
    }
}

/// Covariance and the tests that a target must pass.
fn weigh(
    window: &Window,
    centre: PixelPoint,
    pairs: &Pairs,
    normal: &Normal,
    levels: &Levels,
    iterations: u32,
    options: &LocateOptions,
) -> Result<Located, LocateFailure> {
    let noise = neighbour_noise(pairs).unwrap_or(normal.residual).max(options.noise_floor_grey);
    let residual = normal.residual;
    if levels.contrast < 4.0 * noise {
        return Err(no_contrast(levels, noise));
    }
    if residual > options.greatest_residual_ratio * noise
        && residual > options.greatest_residual_share * levels.contrast
    {
        return Err(LocateFailure::NotSymmetric { residual, noise });
    }
    let Some(inverse) = normal.matrix.try_inverse() else {
        return Err(no_contrast(levels, noise));
    };
    let mut met = normal.matrix;
    met[(0, 0)] += normal.unrest.0;
    met[(1, 1)] += normal.unrest.1;
    let inverse = inverse * met * inverse;
    let widening = structure(pairs, window.radius_px, noise) * normal.dof / (normal.dof - 2.0).max(0.5);
    let scale = 4.0 * residual * residual * widening;
    let cov =
        PixelCov { xx: scale * inverse[(0, 0)], xy: scale * inverse[(0, 1)], yy: scale * inverse[(1, 1)] };
    let u_worst = greatest_u(&cov);
    if !u_worst.is_finite() || u_worst > options.greatest_u_px {
        return Err(no_contrast(levels, noise));
    }
    let slopes = (normal.matrix[(0, 0)] + normal.matrix[(1, 1)]) / 4.0 / pairs.pairs.len() as f64;
    Ok(Located {
        centre: centre.moved(window.origin.0 as f64, window.origin.1 as f64),
        cov,
        contrast: levels.contrast,
        residual,
        noise,
        iterations,
        saturated_share: levels.saturated_share,
        widening,
        sharpness: slopes / (levels.contrast * levels.contrast),
    })
}

fn no_contrast(levels: &Levels, noise: f64) -> LocateFailure {
    LocateFailure::NoContrast {
        contrast: levels.contrast,
        noise,
        least: levels.least_contrast.max(4.0 * noise),
    }
}

/// Standard uncertainty along the worst direction, px.
pub(crate) fn greatest_u(cov: &PixelCov) -> f64 {
    let half = (cov.xx + cov.yy) / 2.0;
    let apart = ((cov.xx - cov.yy) / 2.0).hypot(cov.xy);
    (half + apart).sqrt()
}

/// Noise of one pixel from the change of the difference between neighbours in a row, which smooth asymmetry
/// hardly enters; `None` without neighbours.
fn neighbour_noise(pairs: &Pairs) -> Option<f64> {
    let (mut squares, mut n) = (0.0, 0_usize);
    for two in pairs.pairs.windows(2) {
        if (two[1].dx - two[0].dx - 1.0).abs() < 1e-9 && (two[1].dy - two[0].dy).abs() < 1e-9 {
            squares += (two[1].difference - two[0].difference).powi(2);
            n += 1;
        }
    }
    let (gx, gy) = pairs.opposite;
    let gain = 2.0 * (1.0 + gx.value * gy.value - gx.neighbour * gy.value);
    (n > 0).then(|| (squares / (n as f64 * gain)).sqrt())
}

/// How far the residual's smooth odd part (cubic in the offset) exceeds what noise gives: a factor on the
/// variance, 1 up to the 95 % point of the noise-only case. Dust or a shadow edge across the target shows here.
fn structure(pairs: &Pairs, radius_px: f64, noise: f64) -> f64 {
    let mut matrix = SMatrix::<f64, 8, 8>::zeros();
    let mut rhs = SVector::<f64, 8>::zeros();
    for pair in &pairs.pairs {
        let (x, y) = (pair.dx / radius_px, pair.dy / radius_px);
        let row = [pair.slope_x, pair.slope_y, x, y, x * x * x, x * x * y, x * y * y, y * y * y];
        gather(&mut matrix, &mut rhs, &row, pair.difference);
    }
    matrix.fill_upper_triangle_with_lower_triangle();
    let small = matrix.fixed_view::<4, 4>(0, 0).into_owned();
    let small_rhs = rhs.fixed_rows::<4>(0).into_owned();
    let (Some(whole), Some(part)) = (matrix.cholesky(), small.cholesky()) else { return 1.0 };
    let chi2 = (rhs.dot(&whole.solve(&rhs)) - small_rhs.dot(&part.solve(&small_rhs))) / (4.0 * noise * noise);
    (chi2 / CHI2_95_OF_4).max(1.0)
}
