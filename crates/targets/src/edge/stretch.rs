//! One short stretch of an edge that may run any way: a first guess across it, then least squares of its spread over the
//! pixels as they are, nothing resampled.

use super::fit::{CLIPPED_SPREAD_PX, CLIPPED_STEP, Edge, SPREAD_BOUNDS_PX, SPREAD_PX, Spread};
use super::{EdgeFailure, EdgeOptions};
use filmgauge_quantities::{GreyView, PixelPoint};
use nalgebra::{Matrix5, Vector5};

const MOST_ROUNDS: usize = 30;
const STOP_PX: f64 = 1e-6;
/// Fewest pixels that five unknowns are fitted to.
const FEWEST_SAMPLES: usize = 20;
/// Farthest that the stretch may lean against the direction given.
const GREATEST_LEAN: f64 = 0.18;

/// Where a stretch is sought: its middle, the direction along it as a unit vector, and its length.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sought {
    pub(super) middle: PixelPoint,
    pub(super) along: [f64; 2],
    pub(super) length_px: f64,
    /// How far across it is sought.
    pub(super) search_px: f64,
    /// Which way it steps along the normal (`along` turned from x towards y), where known.
    pub(super) is_rising: Option<bool>,
}

/// A stretch that was found: where its middle is across, how it leans, and how well that is known.
#[derive(Debug, Clone, Copy)]
pub(super) struct Found {
    pub(super) place_px: f64,
    pub(super) lean: f64,
    pub(super) u_px: f64,
    pub(super) step_grey: f64,
}

/// A pixel beside the edge: its place along and across, and its level.
#[derive(Debug, Clone, Copy)]
struct Sample {
    along: f64,
    across: f64,
    grey: f64,
    /// Follows the sample before it by one pixel.
    is_next: bool,
}

/// The stretch near the place given.
pub(super) fn find(view: &GreyView, sought: &Sought, options: &EdgeOptions) -> Result<Found, EdgeFailure> {
    let samples = gathered(view, sought, options.reach_px)?;
    let least_grey = options.least_contrast_share * f64::from(view.full_scale());
    let start = coarse(&samples, sought).ok_or(EdgeFailure::NoContrast { step_grey: 0.0, least_grey })?;
    let picked = |about: f64| -> Vec<Sample> {
        samples.iter().copied().filter(|sample| (sample.across - about).abs() <= options.reach_px).collect()
    };
    let [ax, ay] = sought.along;
    // Of the square pixel's two sides across the edge the longer is taken as it is, the shorter as a Gaussian: exact
    // along the picture's own axes, where all pixels of an edge lie at one distance.
    let (wide_px, narrow_px) = (ax.abs().max(ay.abs()), ax.abs().min(ay.abs()));
    let ceiling = options.saturation_share * f64::from(view.full_scale());
    let mut fit = Fit { samples: picked(start), wide_px, narrow_px, ceiling, options };
    let edge =
        fit.settled(Edge { place: start, lean: 0.0, level: 0.0, step: 0.0, spread: SPREAD_PX }, start)?;
    fit.samples = picked(edge.place);
    let edge = fit.settled(edge, start)?;
    let wrong_way = sought.is_rising.is_some_and(|is_rising| is_rising != (edge.step > 0.0));
    if wrong_way || edge.step.abs() < least_grey {
        return Err(EdgeFailure::NoContrast { step_grey: edge.step, least_grey });
    }
    fit.weighed(&edge)
}

/// Every pixel of the turned rectangle about the place given; the whole of it must lie in the picture.
fn gathered(view: &GreyView, sought: &Sought, reach_px: f64) -> Result<Vec<Sample>, EdgeFailure> {
    let Sought { middle, along: [ax, ay], length_px, search_px, .. } = *sought;
    let (half, wide) = (0.5 * length_px, search_px + reach_px + 1.0);
    let reach = [ax.abs() * half + ay.abs() * wide, ay.abs() * half + ax.abs() * wide];
    let low = [middle.x - reach[0], middle.y - reach[1]].map(f64::ceil);
    let high = [middle.x + reach[0], middle.y + reach[1]].map(f64::floor);
    let last = [view.width() as f64 - 1.0, view.height() as f64 - 1.0];
    if !(low[0] >= 0.0 && low[1] >= 0.0 && high[0] <= last[0] && high[1] <= last[1]) {
        return Err(EdgeFailure::OutOfView);
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked to lie in the picture"
    )]
    let [left, top, right, bottom] = [low[0], low[1], high[0], high[1]].map(|side| side as usize);
    // Neighbours in the list are neighbours along the edge, as far as a picture's rows and columns allow.
    let is_level = ax.abs() >= ay.abs();
    let ((first, end), (inner, inner_end)) =
        if is_level { ((top, bottom), (left, right)) } else { ((left, right), (top, bottom)) };
    let mut samples = Vec::new();
    for outer in first..=end {
        let mut is_next = false;
        for inner in inner..=inner_end {
            let (x, y) = if is_level { (inner, outer) } else { (outer, inner) };
            let (dx, dy) = (x as f64 - middle.x, y as f64 - middle.y);
            let (along, across) = (dx * ax + dy * ay, dy * ax - dx * ay);
            let is_inside = along.abs() <= half && across.abs() <= wide;
            if is_inside && let Some(grey) = view.get(x, y) {
                samples.push(Sample { along, across, grey: f64::from(grey), is_next });
            }
            is_next = is_inside;
        }
    }
    Ok(samples)
}

/// Place of the greatest step of the mean level across, to a pixel, within the search.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few pixels about zero")]
fn coarse(samples: &[Sample], sought: &Sought) -> Option<f64> {
    let reach = sought.search_px.ceil() as usize + 1;
    let mut means = vec![(0.0, 0.0); 2 * reach + 1];
    for sample in samples {
        let bin = (sample.across + reach as f64).round();
        if bin >= 0.0
            && let Some((sum, n)) = means.get_mut(bin as usize)
        {
            *sum += sample.grey;
            *n += 1.0;
        }
    }
    let mean = |at: usize| means.get(at).filter(|(_, n)| *n > 0.0).map(|(sum, n)| sum / n);
    let rise = |at: usize| {
        let slope = mean(at + 1)? - mean(at - 1)?;
        let rise = match sought.is_rising {
            None => slope.abs(),
            Some(true) => slope,
            Some(false) => -slope,
        };
        (rise > 0.0).then_some((rise, at))
    };
    let steps = (1..2 * reach).filter_map(rise);
    let (_, best) = steps.max_by(|one, other| one.0.total_cmp(&other.0))?;
    Some(best as f64 - reach as f64)
}

struct Fit<'a> {
    samples: Vec<Sample>,
    wide_px: f64,
    narrow_px: f64,
    ceiling: f64,
    options: &'a EdgeOptions,
}

impl Fit<'_> {
    fn spread(&self, edge: &Edge, sample: &Sample) -> Spread {
        let distance = sample.across - edge.place - edge.lean * sample.along;
        let own_px2 = self.narrow_px * self.narrow_px / 12.0;
        let sd = (edge.spread * edge.spread + own_px2).sqrt();
        let spread = Spread::over(distance, sd, self.wide_px);
        Spread { widened: spread.widened * edge.spread / sd, ..spread }
    }

    /// Slopes by the unknowns and what is left of a pixel; `None` where a clipped pixel says no more than expected.
    fn row(&self, edge: &Edge, sample: &Sample, slope_step: f64) -> Option<(Vector5<f64>, f64)> {
        let spread = self.spread(edge, sample);
        let expected = edge.level + edge.step * spread.share;
        if sample.grey >= self.ceiling && expected >= self.ceiling {
            return None;
        }
        let by_place = -slope_step * spread.slope;
        let row =
            Vector5::new(by_place, by_place * sample.along, 1.0, spread.share, slope_step * spread.widened);
        Some((row, sample.grey.min(self.ceiling) - expected))
    }

    fn normal(&self, edge: &Edge) -> (Matrix5<f64>, Vector5<f64>) {
        let slope_step = if edge.step == 0.0 { self.end_step() } else { edge.step };
        let (mut matrix, mut rhs) = (Matrix5::zeros(), Vector5::zeros());
        for (row, left) in self.samples.iter().filter_map(|sample| self.row(edge, sample, slope_step)) {
            matrix += row * row.transpose();
            rhs += row * left;
        }
        if self.samples.iter().any(|sample| sample.grey >= self.ceiling) {
            // Pixels below the ceiling alone may not fix step and spread.
            let visible = (self.ceiling - edge.level.min(edge.level + edge.step)).max(1.0);
            let noise2 = self.options.noise_floor_grey.powi(2);
            let step = CLIPPED_STEP.0 * visible * slope_step.signum();
            for (unknown, held, sd) in [
                (3, step - edge.step, CLIPPED_STEP.1 * visible),
                (4, CLIPPED_SPREAD_PX.0 - edge.spread, CLIPPED_SPREAD_PX.1),
            ] {
                matrix[(unknown, unknown)] += noise2 / (sd * sd);
                rhs[unknown] += held * noise2 / (sd * sd);
            }
        }
        (matrix, rhs)
    }

    /// Mean level on the far side less that on the near side, before the first round.
    fn end_step(&self) -> f64 {
        let middle = self.samples.iter().map(|sample| sample.across).sum::<f64>() / self.samples.len() as f64;
        let mean = |is_beyond: bool| {
            let side = self.samples.iter().filter(|sample| (sample.across > middle) == is_beyond);
            let (sum, n) = side.fold((0.0, 0.0), |(sum, n), sample| (sum + sample.grey, n + 1.0));
            sum / f64::max(n, 1.0)
        };
        let step = mean(true) - mean(false);
        if step.abs() > 1e-9 { step } else { 1.0 }
    }

    fn settled(&self, mut edge: Edge, start: f64) -> Result<Edge, EdgeFailure> {
        if self.samples.len() < FEWEST_SAMPLES {
            return Err(EdgeFailure::OutOfView);
        }
        for _ in 0..MOST_ROUNDS {
            let (matrix, rhs) = self.normal(&edge);
            let step = matrix.cholesky().ok_or(EdgeFailure::NoConvergence)?.solve(&rhs);
            if !step.iter().all(|part| part.is_finite()) {
                return Err(EdgeFailure::NoConvergence);
            }
            edge = Edge {
                place: edge.place + step[0].clamp(-1.0, 1.0),
                lean: edge.lean + step[1].clamp(-0.05, 0.05),
                level: edge.level + step[2],
                step: edge.step + step[3],
                spread: (edge.spread + step[4].clamp(-0.5 * edge.spread, 0.5 * edge.spread))
                    .clamp(SPREAD_BOUNDS_PX.0, SPREAD_BOUNDS_PX.1),
            };
            if (edge.place - start).abs() > self.options.reach_px || edge.lean.abs() > GREATEST_LEAN {
                return Err(EdgeFailure::NoConvergence);
            }
            if step[0].abs() < STOP_PX {
                break;
            }
        }
        Ok(edge)
    }

    /// Covariance, and the tests that a stretch must pass.
    fn weighed(&self, edge: &Edge) -> Result<Found, EdgeFailure> {
        let left: Vec<Option<f64>> =
            self.samples.iter().map(|sample| Some(self.row(edge, sample, edge.step)?.1)).collect();
        let n = left.iter().flatten().count() as f64;
        let squares: f64 = left.iter().flatten().map(|left| left * left).sum();
        let floor = self.options.noise_floor_grey;
        let residual_grey = (squares / (n - 5.0).max(1.0)).sqrt().max(floor);
        let noise_grey = self.noise(&left).max(floor);
        if residual_grey > self.options.greatest_residual_share * edge.step.abs()
            && residual_grey > self.options.greatest_residual_ratio * noise_grey
        {
            return Err(EdgeFailure::NotStraight { residual_grey, noise_grey });
        }
        // Structure in what is left hangs together over several pixels, so fewer of them count.
        let widening = (residual_grey / noise_grey).max(1.0).powi(2);
        let inverse = self.normal(edge).0.try_inverse().ok_or(EdgeFailure::NoConvergence)?;
        let u_px = (inverse[(0, 0)].max(0.0) * widening).sqrt() * residual_grey;
        if u_px.is_nan() || u_px > self.options.greatest_u_px {
            return Err(EdgeFailure::Uncertain { u_px });
        }
        Ok(Found { place_px: edge.place, lean: edge.lean, u_px, step_grey: edge.step })
    }

    /// Noise of one pixel from what is left of neighbours along the edge: their median difference, as for a normal law.
    fn noise(&self, left: &[Option<f64>]) -> f64 {
        let pairs = left.windows(2).zip(self.samples.iter().skip(1)).filter(|(_, sample)| sample.is_next);
        let mut differences: Vec<f64> =
            pairs.filter_map(|(pair, _)| Some((pair[1]? - pair[0]?).abs())).collect();
        if differences.is_empty() {
            return 0.0;
        }
        let middle = differences.len() / 2;
        let (_, median, _) = differences.select_nth_unstable_by(middle, f64::total_cmp);
        // 0.6745 is the upper quartile of the normal law; a difference of two pixels has twice the variance of one.
        *median / (0.6745 * std::f64::consts::SQRT_2)
    }
}
