//! Moves the centre until the picture lies best over its own half-turn, then weighs what is left.

use super::normal::Normal;
use super::pairs::{Pairing, Pairs};
use super::window::{Levels, Window};
use super::{LocateFailure, LocateOptions, Located};
use crate::lanes::sums_of_8;
use filmgauge_quantities::{PixelCov, PixelPoint};

/// The pixels of the window are chosen anew when the centre has moved this far from where they were chosen, px.
const RESELECT_PX: f64 = 0.2;

/// Longest single step, px.
const LONGEST_STEP_PX: f64 = 1.0;

/// Noise's share in the squared slopes above which they are quieted.
const QUIET_SHARE: f64 = 0.09;

/// A step shorter than this tells that the centre is near, px.
const NEAR_PX: f64 = 0.1;

/// See [`picture_share`]; measured on coded films, `docs/methods/follow.md`, "Lossy film".
const PICTURE_SHARE: f64 = 0.2;

/// Upper 5 % point of χ² with 4 degrees of freedom (closed form: the root of (1 + x/2) exp(-x/2) = 0.05).
const CHI2_95_OF_4: f64 = 9.488;

/// Moves the centre until it stays, then weighs what is left.
pub(super) fn settle(
    window: &Window,
    start: PixelPoint,
    levels: &Levels,
    options: &LocateOptions,
) -> Result<Located, LocateFailure> {
    let mut pairing = Pairing::new(window);
    let (mut centre, mut selection) = (start, start);
    for iteration in 1..=options.most_iterations {
        if centre.distance(selection) > RESELECT_PX {
            selection = centre;
        }
        if !window.holds(selection) || !window.holds(centre) {
            return Err(LocateFailure::NoConvergence);
        }
        let pairs = pairing.about(centre, selection);
        let normal = Normal::of(pairs, options.noise_floor_grey);
        let Some(step) = normal.step() else {
            return Err(no_contrast(levels, normal.residual));
        };
        let length = step.0.hypot(step.1);
        let shorten = (LONGEST_STEP_PX / length.max(1e-12)).min(1.0);
        centre = centre.moved(step.0 * shorten, step.1 * shorten);
        // Far from the centre the residual is no noise.
        let is_loud = pairs.quieted.is_none() && normal.slope_noise_share > QUIET_SHARE;
        if is_loud && length < NEAR_PX {
            pairing.quiet();
        } else if length < options.stop_px {
            return weigh(window, centre, pairs, &normal, levels, iteration, options);
        }
    }
    Err(LocateFailure::NoConvergence)
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
    let Some(spread) = normal.spread() else {
        return Err(no_contrast(levels, noise));
    };
    let of_picture = options.picture_u_px * options.picture_u_px;
    let expected = 1.0 + picture_share(normal, of_picture, noise);
    let structure = structure(pairs, window.outline.radius_px, noise, expected);
    let few = normal.dof / (normal.dof - 2.0).max(0.5);
    let scale = 4.0 * residual * residual * few;
    let cov = PixelCov {
        xx: structure * (scale * spread[(0, 0)] + of_picture),
        xy: structure * scale * spread[(0, 1)],
        yy: structure * (scale * spread[(1, 1)] + of_picture),
    };
    let u_worst = greatest_u(&cov);
    if !u_worst.is_finite() || u_worst > options.greatest_u_px {
        return Err(no_contrast(levels, noise));
    }
    let slopes = (normal.matrix[(0, 0)] + normal.matrix[(1, 1)]) / 4.0 / pairs.difference.len() as f64;
    Ok(Located {
        centre: centre.moved(window.origin.0 as f64, window.origin.1 as f64),
        cov,
        contrast: levels.contrast,
        residual,
        noise,
        iterations,
        saturated_share: levels.saturated_share,
        widening: structure * few,
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
    let columns = pairs.dx.windows(2).zip(pairs.dy.windows(2)).zip(pairs.difference.windows(2));
    for ((dx, dy), difference) in columns {
        if (dx[1] - dx[0] - 1.0).abs() < 0.1 && (dy[1] - dy[0]).abs() < 0.1 {
            squares += f64::from(difference[1] - difference[0]).powi(2);
            n += 1;
        }
    }
    let (gx, gy) = pairs.opposite;
    let gain = 2.0 * (1.0 + gx.value * gy.value - gx.neighbour * gy.value);
    (n > 0).then(|| (squares / (n as f64 * gain)).sqrt())
}

/// What a picture that moves its pieces by `of_picture` (variance per axis, px²) leaves in the residual's smooth odd part,
/// as a multiple of what noise leaves there.
///
/// Pieces that move on their own shift the centre by the mean of their ways, and leave the rest of their ways, times the
/// slopes, in the residual: in proportion to the variance that they give the centre over the one that noise gives it.
fn picture_share(normal: &Normal, of_picture: f64, noise: f64) -> f64 {
    let slopes = (normal.matrix[(0, 0)] + normal.matrix[(1, 1)]).max(0.0) / 2.0;
    PICTURE_SHARE * of_picture * slopes / (4.0 * noise * noise)
}

/// How far the residual's smooth odd part (cubic in the offset) exceeds what noise and the picture itself give, `expected`
/// as a multiple of noise alone: a factor on the variance, 1 up to the 95 % point of that case. Dust or a shadow edge
/// across the target shows here.
fn structure(pairs: &Pairs, radius_px: f64, noise: f64, expected: f64) -> f64 {
    #[expect(clippy::cast_possible_truncation, reason = "a length in the picture, in single precision")]
    let scale = 1.0 / radius_px as f32;
    let scaled = |way: &[f32]| -> Vec<f32> { way.iter().map(|way| scale * way).collect() };
    let (x, y) = (scaled(&pairs.dx), scaled(&pairs.dy));
    let cubic = |of: fn(f32, f32) -> f32| -> Vec<f32> { x.iter().zip(&y).map(|(x, y)| of(*x, *y)).collect() };
    let xxx = cubic(|x, _| x * x * x);
    let xxy = cubic(|x, y| x * x * y);
    let xyy = cubic(|x, y| x * y * y);
    let yyy = cubic(|_, y| y * y * y);
    let columns = [&pairs.slope_x, &pairs.slope_y, &x, &y, &xxx, &xxy, &xyy, &yyy];
    let (matrix, rhs) = sums_of_8(columns.map(Vec::as_slice), &pairs.difference).normal();
    let small = matrix.fixed_view::<4, 4>(0, 0).into_owned();
    let small_rhs = rhs.fixed_rows::<4>(0).into_owned();
    let (Some(whole), Some(part)) = (matrix.cholesky(), small.cholesky()) else { return 1.0 };
    let chi2 = (rhs.dot(&whole.solve(&rhs)) - small_rhs.dot(&part.solve(&small_rhs))) / (4.0 * noise * noise);
    (chi2 / (CHI2_95_OF_4 * expected)).max(1.0)
}
