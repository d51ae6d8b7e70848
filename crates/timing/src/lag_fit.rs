//! Lag of a coarser record against a finer one, by generalised least squares with interpolated samples.

use crate::TimingError;
use crate::banded::Banded;
use crate::interpolation::{Smooth, Stencil, TimedSeries};
use crate::lag::{Lag, LagOptions};
use crate::least_squares::{Solved, solve};
use nalgebra::{DMatrix, DVector};

/// Steps after which a lag that has not settled is given up.
const MOST_STEPS: usize = 40;
/// Steps after which only half of each is taken, against swinging about the solution.
const FULL_STEPS: usize = 10;
/// A lag that moves by less than this share of its uncertainty has settled.
const SETTLED: f64 = 1e-3;
/// Fewest samples that must overlap: three terms and enough left to judge them by.
const FEWEST_SAMPLES: usize = 12;

/// The finer record, read where the coarser one has its samples.
pub(crate) struct Pair<'a> {
    pub(crate) fine: &'a TimedSeries<'a>,
    pub(crate) coarse: &'a TimedSeries<'a>,
    pub(crate) options: &'a LagOptions,
}

/// The terms of the fit.
#[derive(Debug, Clone, Copy)]
struct Terms {
    offset: f64,
    scale: f64,
    lag_s: f64,
}

/// One linearised fit about given terms.
struct Step {
    solved: Solved,
    chi2: f64,
    /// Squared size of the slope column that neither offset nor scale explains, and its part from noise.
    motion: f64,
    motion_noise: f64,
    at_s: f64,
}

impl Pair<'_> {
    pub(crate) fn lag(&self) -> Result<Lag, TimingError> {
        let core = self.core();
        if core.len() < FEWEST_SAMPLES {
            let what = "overlapping samples for a lag within the search limits";
            return Err(TimingError::TooFew { what, found: core.len(), needed: FEWEST_SAMPLES });
        }
        let mut terms = self.look(&core)?;
        for taken in 0..MOST_STEPS {
            let step = self.step(&core, terms).ok_or_else(|| undetermined(UNDETERMINED))?;
            let place = step.solved.values.len() - 1;
            let u_s = step.solved.covariance[(place, place)].sqrt();
            let change_s =
                step.solved.values[place].clamp(-self.options.search_step_s, self.options.search_step_s);
            if change_s.abs() <= SETTLED * u_s {
                return self.settled(&step, terms);
            }
            let share = if taken < FULL_STEPS { 1.0 } else { 0.5 };
            terms.offset += share * step.solved.values[0];
            if self.options.scale_is_free {
                terms.scale += share * step.solved.values[1];
            }
            terms.lag_s += share * change_s;
            if terms.lag_s.abs() > self.options.search_s {
                return Err(undetermined(AT_LIMIT));
            }
        }
        Err(undetermined("the lag does not settle; is it the same target in both records?"))
    }

    /// Coarse samples that stay within the fine record at every lag of the search, so that all lags are judged by the
    /// same samples.
    fn core(&self) -> Vec<usize> {
        let reach_s = self.options.search_s;
        let within = |&at: &usize| {
            let time_s = self.coarse.times_s[at];
            let known = |lag_s: f64| self.reading(time_s - lag_s).is_some();
            known(-reach_s) && known(0.0) && known(reach_s)
        };
        (0..self.coarse.times_s.len()).filter(within).collect()
    }

    fn reading(&self, time_s: f64) -> Option<(Stencil, Smooth)> {
        let stencil = self.fine.stencil(time_s, self.options.most_gap_s)?;
        Some((stencil, self.fine.smooth(time_s, self.options.slope_half_s)?))
    }

    /// The lag of the search at which offset and scale leave the least residual.
    fn look(&self, core: &[usize]) -> Result<Terms, TimingError> {
        let options = self.options;
        let mut best: Option<(f64, Terms)> = None;
        let mut lag_s = -options.search_s;
        while lag_s <= options.search_s + 0.5 * options.search_step_s {
            if let Some((reduced, terms)) = self.at_lag(core, lag_s)
                && best.is_none_or(|(least, _)| reduced < least)
            {
                best = Some((reduced, terms));
            }
            lag_s += options.search_step_s;
        }
        best.map(|(_, terms)| terms).ok_or_else(|| undetermined(UNDETERMINED))
    }

    fn at_lag(&self, core: &[usize], lag_s: f64) -> Option<(f64, Terms)> {
        let (mut fine, mut coarse, mut u) = (Vec::new(), Vec::new(), Vec::new());
        for &at in core {
            let time_s = self.coarse.times_s[at] - lag_s;
            if let Some(stencil) = self.fine.stencil(time_s, self.options.most_gap_s) {
                fine.push(self.fine.interpolated(&stencil));
                coarse.push(self.coarse.values[at]);
                u.push(self.coarse.u[at]);
            }
        }
        if fine.len() < FEWEST_SAMPLES {
            return None;
        }
        let is_free = self.options.scale_is_free;
        let design =
            DMatrix::from_fn(fine.len(), 1 + usize::from(is_free), |row, term| [1.0, fine[row]][term]);
        let held = if is_free { 0.0 } else { 1.0 };
        let data = DVector::from_fn(fine.len(), |row, _| coarse[row] - held * fine[row]);
        let solved = solve(&design, &data, &u)?;
        let scale = if is_free { solved.values[1] } else { 1.0 };
        Some((solved.reduced(), Terms { offset: solved.values[0], scale, lag_s }))
    }

    /// Corrections to the terms. The columns are smoothed, so that the noise of single samples does not look like
    /// motion; the residuals are not.
    fn step(&self, core: &[usize], terms: Terms) -> Option<Step> {
        let readings: Vec<(usize, Stencil, Smooth)> = core
            .iter()
            .filter_map(|&at| {
                let (stencil, smooth) = self.reading(self.coarse.times_s[at] - terms.lag_s)?;
                Some((at, stencil, smooth))
            })
            .collect();
        let n = readings.len();
        if n < FEWEST_SAMPLES {
            return None;
        }
        let variance = |row: usize, column: usize| {
            let own = if row == column { self.coarse.u[readings[row].0].powi(2) } else { 0.0 };
            own + terms.scale.powi(2) * self.fine.covariance(&readings[row].1, &readings[column].1)
        };
        let factor = Banded::new(n, width(&readings), variance).cholesky()?;
        let white = |of: &dyn Fn(&(usize, Stencil, Smooth)) -> f64| {
            factor.whiten(&readings.iter().map(of).collect::<Vec<f64>>())
        };
        let residual = white(&|(at, stencil, _)| {
            self.coarse.values[*at] - terms.offset - terms.scale * self.fine.interpolated(stencil)
        });
        let mut columns = vec![white(&|_| 1.0)];
        if self.options.scale_is_free {
            columns.push(white(&|(_, _, smooth)| smooth.value));
        }
        columns.push(white(&|(_, _, smooth)| -terms.scale * smooth.slope));
        let design = DMatrix::from_fn(n, columns.len(), |row, term| columns[term][row]);
        let solved = solve(&design, &DVector::from_vec(residual.clone()), &vec![1.0; n])?;
        let place = columns.len() - 1;
        let motion = 1.0 / solved.covariance[(place, place)];
        let noise = readings.iter().enumerate();
        let motion_noise = noise
            .map(|(row, (_, _, smooth))| terms.scale.powi(2) * smooth.slope_variance / variance(row, row))
            .sum();
        let at_s = self.place_of_motion(&design, &readings, terms.lag_s)?;
        let chi2 = residual.iter().map(|value| value * value).sum();
        Some(Step { solved, chi2, motion, motion_noise, at_s })
    }

    /// Mean time of the samples, each by how much it says about the lag.
    fn place_of_motion(
        &self,
        design: &DMatrix<f64>,
        readings: &[(usize, Stencil, Smooth)],
        lag_s: f64,
    ) -> Option<f64> {
        let place = design.ncols() - 1;
        let others = design.columns(0, place).into_owned();
        let slope = design.column(place).into_owned();
        let rest = solve(&others, &slope, &vec![1.0; readings.len()])?.residuals;
        let (mut sum, mut weighted_s) = (0.0, 0.0);
        for ((at, _, _), part) in readings.iter().zip(rest.iter()) {
            sum += part * part;
            weighted_s += part * part * (self.coarse.times_s[*at] - lag_s);
        }
        (sum > 0.0).then(|| weighted_s / sum)
    }

    fn settled(&self, step: &Step, terms: Terms) -> Result<Lag, TimingError> {
        if step.motion < self.options.least_motion * step.motion_noise {
            return Err(undetermined(NO_MOTION));
        }
        let place = step.solved.values.len() - 1;
        let freedom = step.solved.freedom;
        #[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
        let widening = (step.chi2 / freedom.max(1) as f64).max(1.0).sqrt();
        let u = |at: usize| widening * step.solved.covariance[(at, at)].sqrt();
        let u_s = u(place);
        if u_s > self.options.most_u_s {
            return Err(TimingError::NotDetermined {
                what: "lag",
                why: format!(
                    "its standard uncertainty of {:.2} ms is above the limit of {:.2} ms; \
                     follow the target through more of its change of speed",
                    u_s * 1e3,
                    self.options.most_u_s * 1e3
                ),
            });
        }
        let scale_u = if self.options.scale_is_free { u(1) } else { 0.0 };
        let Terms { lag_s, scale, .. } = terms;
        Ok(Lag { lag_s, u_s, at_s: step.at_s, scale, scale_u, chi2: step.chi2, freedom, widening })
    }
}

const UNDETERMINED: &str = "offset, scale and lag do not follow from these records; follow the target longer";
const AT_LIMIT: &str = "the lag reaches the limit of the search; widen it, or check both time zeros";
const NO_MOTION: &str = "the target's speed hardly changes, so a lag cannot be told from an offset of place; \
                         follow a target that brakes or strikes";

fn undetermined(why: &str) -> TimingError {
    TimingError::NotDetermined { what: "lag", why: why.to_owned() }
}

/// How far apart two coarse samples may be that use the same fine sample.
fn width(readings: &[(usize, Stencil, Smooth)]) -> usize {
    let mut width = 0;
    let mut first = 0;
    for row in 0..readings.len() {
        while readings[first].1.first + 4 <= readings[row].1.first {
            first += 1;
        }
        width = width.max(row - first);
    }
    width
}
