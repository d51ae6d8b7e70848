//! Least squares of an edge's spread: place, lean, level, step and spread, from every pixel beside the edge.

use super::strip::Strip;
use super::{EdgeFailure, EdgeLine, EdgeOptions, EdgeStep};
use nalgebra::{Matrix5, Vector5};

/// Most rounds of the fit, and the step at which it ends, px.
const MOST_ROUNDS: usize = 40;
const STOP_PX: f64 = 1e-6;
/// Spread at the start, and its bounds, px.
pub(super) const SPREAD_PX: f64 = 0.7;
pub(super) const SPREAD_BOUNDS_PX: (f64, f64) = (0.12, 6.0);
/// What is held of a clipped edge beforehand: its bright side beyond the ceiling, as a share of the step up to the
/// ceiling, and its spread, px; each with its standard deviation.
pub(super) const CLIPPED_STEP: (f64, f64) = (1.25, 0.3);
pub(super) const CLIPPED_SPREAD_PX: (f64, f64) = (0.7, 0.5);
/// Farthest that an edge may lean: 10 degrees.
const GREATEST_LEAN: f64 = 0.18;

/// The unknowns.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    pub(super) place: f64,
    pub(super) lean: f64,
    pub(super) level: f64,
    pub(super) step: f64,
    pub(super) spread: f64,
}

/// Fits the edge from a first place and weighs what is left.
pub(super) fn settle(
    strip: &Strip,
    start: f64,
    wanted: EdgeStep,
    options: &EdgeOptions,
) -> Result<EdgeLine, EdgeFailure> {
    let mut edge = Edge { place: start, lean: 0.0, level: 0.0, step: 0.0, spread: SPREAD_PX };
    let mut columns = columns_about(strip, start, options.reach_px).ok_or(EdgeFailure::OutOfView)?;
    for _ in 0..MOST_ROUNDS {
        let normal = Normal::of(strip, &edge, columns, options);
        let root = normal.matrix.cholesky().ok_or(EdgeFailure::NoConvergence)?;
        let step = root.solve(&normal.rhs);
        if !step.iter().all(|s| s.is_finite()) {
            return Err(EdgeFailure::NoConvergence);
        }
        edge = edge.moved(&step);
        if (edge.place - start).abs() > 2.0 * options.reach_px || edge.lean.abs() > GREATEST_LEAN {
            return Err(EdgeFailure::NoConvergence);
        }
        let now = columns_about(strip, edge.place, options.reach_px).ok_or(EdgeFailure::OutOfView)?;
        let settled = step[0].abs() < STOP_PX && step[4].abs() < 1e3 * STOP_PX && now == columns;
        columns = now;
        if settled {
            return weigh(strip, &edge, columns, wanted, options);
        }
    }
    // The columns may flip between two choices for ever; any one of them will do.
    let last = Normal::of(strip, &edge, columns, options).matrix.cholesky();
    if last.is_some() {
        weigh(strip, &edge, columns, wanted, options)
    } else {
        Err(EdgeFailure::NoConvergence)
    }
}

impl Edge {
    /// The next values: level and step are linear, the others go at most a pixel, or half the spread, at a time.
    fn moved(self, by: &Vector5<f64>) -> Self {
        let spread = self.spread + by[4].clamp(-0.5 * self.spread, 0.5 * self.spread);
        Self {
            place: self.place + by[0].clamp(-1.0, 1.0),
            lean: self.lean + by[1].clamp(-0.05, 0.05),
            level: self.level + by[2],
            step: self.step + by[3],
            spread: spread.clamp(SPREAD_BOUNDS_PX.0, SPREAD_BOUNDS_PX.1),
        }
    }
}

/// First and last column of the strip within reach of a place; none where the strip ends before.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked to lie in the strip")]
fn columns_about(strip: &Strip, place: f64, reach_px: f64) -> Option<(usize, usize)> {
    let (low, high) = (place - strip.first.0 - reach_px, place - strip.first.0 + reach_px);
    let most = strip.width as f64 - 1.0;
    // The margin was cut for a place to the nearest pixel: half a pixel may be missing.
    let (low, high) = (low.round().max(0.0), high.round().min(most));
    (high - low >= 2.0 * reach_px - 1.6).then_some((low as usize, high as usize))
}

/// Normal equations; the level and step are solved anew in every round.
struct Normal {
    matrix: Matrix5<f64>,
    rhs: Vector5<f64>,
    squares: f64,
    n: f64,
}

impl Normal {
    fn of(strip: &Strip, edge: &Edge, (first, last): (usize, usize), options: &EdgeOptions) -> Self {
        let mut normal = Self { matrix: Matrix5::zeros(), rhs: Vector5::zeros(), squares: 0.0, n: 0.0 };
        let middle = 0.5 * (strip.lines as f64 - 1.0);
        // Before the first round there is no step to tell a slope by: the strip's own ends give one.
        let ceiling = options.saturation_share * strip.full_scale;
        let mut is_clipped = false;
        let guess = if edge.step == 0.0 { end_step(strip, first, last) } else { edge.step };
        for line in 0..strip.lines {
            let along = line as f64 - middle;
            let place = edge.place + edge.lean * along;
            for (column, grey) in strip.line(line).iter().enumerate().take(last + 1).skip(first) {
                let spread = Spread::at(strip.first.0 + column as f64 - place, edge.spread);
                let row = Vector5::new(
                    -guess * spread.slope,
                    -guess * spread.slope * along,
                    1.0,
                    spread.share,
                    guess * spread.widened,
                );
                let expected = edge.level + edge.step * spread.share;
                if *grey >= ceiling {
                    is_clipped = true;
                    // A clipped pixel says no more than that it is bright.
                    if expected >= ceiling {
                        continue;
                    }
                }
                let residual = grey.min(ceiling) - expected;
                normal.matrix += row * row.transpose();
                normal.rhs += row * residual;
                normal.squares += residual * residual;
                normal.n += 1.0;
            }
        }
        if is_clipped {
            normal.hold(strip, edge, guess, ceiling, (first, last), options);
        }
        normal
    }

    /// Adds what is held of a clipped edge beforehand: the pixels below the ceiling alone may not fix step and spread.
    fn hold(
        &mut self,
        strip: &Strip,
        edge: &Edge,
        guess: f64,
        ceiling: f64,
        (first, last): (usize, usize),
        options: &EdgeOptions,
    ) {
        let noise2 = strip.noise(first..=last, ceiling).max(options.noise_floor_grey).powi(2);
        let dark = edge.level.min(edge.level + edge.step);
        let visible = (ceiling - dark).max(1.0);
        let step = CLIPPED_STEP.0 * visible * guess.signum();
        for (unknown, held, sd) in [
            (3, step - edge.step, CLIPPED_STEP.1 * visible),
            (4, CLIPPED_SPREAD_PX.0 - edge.spread, CLIPPED_SPREAD_PX.1),
        ] {
            self.matrix[(unknown, unknown)] += noise2 / (sd * sd);
            self.rhs[unknown] += held * noise2 / (sd * sd);
        }
    }
}

fn end_step(strip: &Strip, first: usize, last: usize) -> f64 {
    let sum: f64 = (0..strip.lines).map(|line| strip.line(line)[last] - strip.line(line)[first]).sum();
    let mean = sum / strip.lines as f64;
    if mean.abs() > 1e-9 { mean } else { 1.0 }
}

/// The spread of an edge under a Gaussian and the pixel's own area, at a distance, in closed form.
pub(super) struct Spread {
    /// Share of the step that a pixel has seen, 0 to 1.
    pub(super) share: f64,
    /// Its change per pixel of distance.
    pub(super) slope: f64,
    /// Its change per pixel of spread.
    pub(super) widened: f64,
}

impl Spread {
    fn at(distance: f64, sd: f64) -> Self {
        Self::over(distance, sd, 1.0)
    }

    /// The same for a pixel that is `width_px` wide across the edge.
    pub(super) fn over(distance: f64, sd: f64, width_px: f64) -> Self {
        let side = |x: f64| {
            let z = x / sd;
            let below = 0.5 * (1.0 + libm::erf(z * std::f64::consts::FRAC_1_SQRT_2));
            let density = (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt();
            (x * below + sd * density, below, density)
        };
        let (right, left) = (side(distance + 0.5 * width_px), side(distance - 0.5 * width_px));
        let mean = |right: f64, left: f64| (right - left) / width_px;
        Self { share: mean(right.0, left.0), slope: mean(right.1, left.1), widened: mean(right.2, left.2) }
    }
}

/// Covariance and the tests that an edge must pass.
fn weigh(
    strip: &Strip,
    edge: &Edge,
    columns: (usize, usize),
    wanted: EdgeStep,
    options: &EdgeOptions,
) -> Result<EdgeLine, EdgeFailure> {
    let least_grey = options.least_contrast_share * strip.full_scale;
    let wrong_way = match wanted {
        EdgeStep::Brighter => edge.step < 0.0,
        EdgeStep::Darker => edge.step > 0.0,
        EdgeStep::Either => false,
    };
    if wrong_way || edge.step.abs() < least_grey {
        return Err(EdgeFailure::NoContrast { step_grey: edge.step, least_grey });
    }
    let normal = Normal::of(strip, edge, columns, options);
    let residual_grey = (normal.squares / (normal.n - 5.0).max(1.0)).sqrt().max(options.noise_floor_grey);
    let noise_grey = strip
        .noise(columns.0..=columns.1, options.saturation_share * strip.full_scale)
        .max(options.noise_floor_grey);
    if residual_grey > options.greatest_residual_share * edge.step.abs()
        && residual_grey > options.greatest_residual_ratio * noise_grey
    {
        return Err(EdgeFailure::NotStraight { residual_grey, noise_grey });
    }
    // Structure in the residual hangs together over several pixels, so fewer of them count; at worst it is alike in
    // all lines, which then count as one.
    let widening = (residual_grey / noise_grey).max(1.0).powi(2).min(strip.lines as f64);
    let variance = residual_grey * residual_grey * widening;
    let cov = normal.matrix.try_inverse().ok_or(EdgeFailure::NoConvergence)? * variance;
    let u_px = cov[(0, 0)].max(0.0).sqrt();
    if u_px.is_nan() || u_px > options.greatest_u_px {
        return Err(EdgeFailure::Uncertain { u_px });
    }
    Ok(EdgeLine {
        run: strip.run,
        middle_px: strip.first.1 + 0.5 * (strip.lines as f64 - 1.0),
        place_px: edge.place,
        lean: edge.lean,
        place_var_px2: cov[(0, 0)],
        place_lean_cov: cov[(0, 1)],
        lean_var: cov[(1, 1)],
        step_grey: edge.step,
        spread_px: edge.spread,
        residual_grey,
        noise_grey,
    })
}
