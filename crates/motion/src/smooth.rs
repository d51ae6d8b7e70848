//! Smooth position, speed and acceleration with their bands from a noisy curve: smoothing spline of degree 5 or 7.
//!
//! Values with variance at uneven times, gaps allowed, go in; value, rate, second and third derivative with their
//! covariance come out, at every frame and between. At a change of the motion (contact, a second blow, the end of a
//! rise) the second derivative may jump or build up quickly; how it did is averaged over, because a stationary curve
//! rounds a kink off and a single sharp kink claims to know too much.

mod chain;
mod changes;
mod choose;
mod compare;
mod draw;
mod gaps;
mod options;
mod plan;
mod rises;
mod scale;

use crate::MotionFailure;
use crate::samples::Sample;
use crate::spline::{Degree, Estimate, between, estimate};
use chain::{Laid, State};
pub use compare::{SmoothnessComparison, compare_smoothness};
pub use options::{FixedChange, FixedSmoothness, SmoothOptions, Smoothness};
use rises::Local;
use scale::Scale;

/// A change of the motion, given or found.
#[derive(Debug, Clone, PartialEq)]
pub struct MotionChange {
    /// When it began, s.
    pub time_s: f64,
    /// Standard uncertainty of that, s.
    pub u_s: f64,
    /// Time in which it built up, s, mean over what the marks allow.
    pub rise_s: f64,
    /// Standard uncertainty of that, s.
    pub rise_u_s: f64,
    /// Whether it was given, and not found in the marks.
    pub given: bool,
}

/// A smooth curve with its bands, from the first to the last mark.
#[derive(Debug, Clone)]
pub struct Smoothed {
    /// Times of the frames from the first to the last mark, s.
    pub times_s: Vec<f64>,
    /// Value, rate, second and third derivative at each of them: unit, unit/s, unit/s², unit/s³. At degree 5 the third
    /// derivative is not estimated: its entries are 0 and stand for nothing.
    pub states: Vec<[f64; 4]>,
    /// Covariance of each state.
    pub covs: Vec<[[f64; 4]; 4]>,
    /// Strength of the driving noise on the way to each frame at the stated variances, unit²/s⁷ (degree 5: unit²/s⁵): how
    /// rough the curve was let be.
    pub q: Vec<f64>,
    /// Changes of the motion that the curve was let follow, in the order of time.
    pub changes: Vec<MotionChange>,
    /// Scatter of the marks over that stated; with [`Smoothness::Gcv`] the bands already contain it.
    pub noise_scale: f64,
    /// Equivalent number of parameters: trace of the hat matrix.
    pub equivalent_parameters: f64,
    /// Number of marks used.
    pub n_marks: usize,
    degree: Degree,
    plan: FixedSmoothness,
    laid: Laid,
    states_of_nodes: Vec<Estimate>,
    blends: Vec<Blend>,
    scale: Scale,
    widened: f64,
}

/// Frames about a change, where several models are averaged.
#[derive(Debug, Clone)]
struct Blend {
    /// From and to, steps.
    from: f64,
    to: f64,
    /// Frame of the models' first node.
    first: usize,
    models: Vec<Local>,
}

impl Smoothed {
    /// Smoothness and changes of this curve: given back, they draw the same curve again, with the stated variances.
    #[must_use]
    pub fn smoothness(&self) -> Smoothness {
        Smoothness::Fixed(self.plan.clone())
    }

    /// State and covariance at any instant from the first to the last mark, exact under the model; `None` outside.
    #[must_use]
    pub fn at(&self, time_s: f64) -> Option<([f64; 4], [[f64; 4]; 4])> {
        self.at_steps(self.scale.steps(time_s))
    }

    /// Degree of the spline: 5 or 7.
    #[must_use]
    pub fn degree_number(&self) -> i32 {
        self.degree.power()
    }

    /// Frequency up to which the curve follows the marks at each frame, Hz: where the gain of an endless spline of that
    /// strength is one half, (q / (u² step))^(1/2m) / 2π for marks with standard deviation u.
    #[must_use]
    pub fn band_hz(&self) -> Vec<f64> {
        let power = 1.0 / f64::from(self.degree.power() + 1);
        let step_s = self.scale.time_s(1.0) - self.scale.time_s(0.0);
        let band = |&q: &f64| self.scale.drive_per_step(q).powf(power) / (std::f64::consts::TAU * step_s);
        self.q.iter().map(band).collect()
    }

    fn at_steps(&self, at: f64) -> Option<State> {
        let blend = self.blends.iter().find(|blend| (blend.from..=blend.to).contains(&at));
        let Some(blend) = blend else {
            return self.by_model(&self.laid, &self.states_of_nodes, at);
        };
        let states = blend
            .models
            .iter()
            .map(|model| Some((model.weight, self.by_model(&model.laid, &model.states, at)?)));
        Some(averaged(&states.collect::<Option<Vec<_>>>()?))
    }

    fn by_model(&self, laid: &Laid, states: &[Estimate], at: f64) -> Option<State> {
        let nodes = &laid.nodes;
        let end = nodes.len() - 1;
        if !(nodes[0].at - 1e-9..=nodes[end].at + 1e-9).contains(&at) {
            return None;
        }
        let after = nodes.partition_point(|node| node.at <= at + 1e-9);
        let before = after.saturating_sub(1);
        let ahead = at - nodes[before].at;
        let (state, cov) = if after > end || ahead <= 1e-9 {
            (states[before].state, states[before].cov)
        } else {
            let from = (&nodes[before], &states[before]);
            between(self.degree, from, (&nodes[after], &states[after]), ahead)?
        };
        Some(self.scale.restored(at, state, &cov, self.widened))
    }
}

/// Mean and covariance of a mixture: what the models say of themselves, and how far they are apart.
fn averaged(models: &[(f64, State)]) -> State {
    let mean: [f64; 4] = std::array::from_fn(|i| models.iter().map(|(w, (state, _))| w * state[i]).sum());
    let entry = |i: usize, j: usize| {
        models
            .iter()
            .map(|(w, (state, cov))| w * (cov[i][j] + (state[i] - mean[i]) * (state[j] - mean[j])))
            .sum()
    };
    (mean, std::array::from_fn(|i| std::array::from_fn(|j| entry(i, j))))
}

/// Smooths a curve of values with variance, one entry for each time.
///
/// Cost grows with the number of frames; the choice of smoothness repeats the estimate some forty times.
///
/// # Errors
/// [`MotionFailure`] for settings out of range, times that do not grow, marks that are not usable, and for fewer than
/// eight marks.
pub fn smooth(
    times_s: &[f64],
    samples: &[Sample],
    options: &SmoothOptions,
) -> Result<Smoothed, MotionFailure> {
    options.check()?;
    let chain = chain::Chain::of(times_s, samples, options)?;
    let why = "the marks do not determine a curve; add marks";
    let undetermined = MotionFailure::Degenerate { what: "smooth curve", why };
    let plan = plan::plan(&chain, options).ok_or_else(|| undetermined.clone())?;
    let setting = plan::setting(&chain, options, &plan);
    let whole = plan::laid_with_messages(&setting, &plan.changes).ok_or_else(|| undetermined.clone())?;
    let found = estimate(chain.degree, &whole.0.nodes).ok_or(undetermined)?;
    let fit = choose::fit(&whole.0.nodes, &found);
    let noise_scale = fit.noise_scale().unwrap_or(1.0);
    let widened = if options.smoothness == Smoothness::Gcv { noise_scale } else { 1.0 };
    let blends = blends(&chain, &setting, &plan.changes, (&whole.0, &whole.1));
    let changes = plan.changes.iter().map(|change| told(change, &chain.scale)).collect();
    let q: Vec<f64> = plan.drives.iter().map(|&drive| chain.scale.drive_per_s(drive)).collect();
    let mut smoothed = Smoothed {
        times_s: chain.frames.iter().map(|frame| frame.time_s).collect(),
        states: Vec::new(),
        covs: Vec::new(),
        q: q.clone(),
        changes,
        noise_scale,
        equivalent_parameters: fit.trace,
        n_marks: samples.iter().flatten().count(),
        degree: chain.degree,
        plan: FixedSmoothness {
            q,
            changes: plan.changes.iter().map(|change| kept(change, &chain.scale)).collect(),
        },
        laid: whole.0,
        states_of_nodes: found,
        blends,
        scale: chain.scale,
        widened,
    };
    let at_frames: Option<Vec<State>> =
        chain.frames.iter().map(|frame| smoothed.at_steps(frame.at)).collect();
    let why = "numbers out of range";
    let states = at_frames.ok_or(MotionFailure::Degenerate { what: "smooth curve", why })?;
    (smoothed.states, smoothed.covs) = states.into_iter().unzip();
    Ok(smoothed)
}

/// The models about each change, cut where the next change is nearer.
fn blends(
    chain: &chain::Chain,
    setting: &rises::Setting<'_>,
    changes: &[rises::Change],
    whole: (&Laid, &crate::spline::Messages),
) -> Vec<Blend> {
    let several = (0..changes.len()).filter(|&k| changes[k].ways.len() > 1);
    several
        .map(|k| {
            let window = setting.window(&changes[k], rises::SPREAD);
            let (mut from, mut to) = (chain.frames[window.start].at, chain.frames[window.end - 1].at);
            if k > 0 {
                from = from.max(changes[k - 1].at.midpoint(changes[k].at));
            }
            if let Some(next) = changes.get(k + 1) {
                to = to.min(changes[k].at.midpoint(next.at));
            }
            Blend { from, to, first: window.start, models: setting.models(changes, k, whole) }
        })
        .collect()
}

/// A change as it is given back.
fn kept(change: &rises::Change, scale: &Scale) -> FixedChange {
    let step_s = scale.time_s(1.0) - scale.time_s(0.0);
    let way = |way: &rises::Way| (way.shift * step_s, way.rise * step_s, way.weight);
    FixedChange {
        time_s: scale.time_s(change.at),
        u_s: change.u * step_s,
        given: change.given,
        ways: change.ways.iter().map(way).collect(),
    }
}

/// A change as the result tells it.
fn told(change: &rises::Change, scale: &Scale) -> MotionChange {
    let mean =
        |of: &dyn Fn(&rises::Way) -> f64| change.ways.iter().map(|way| way.weight * of(way)).sum::<f64>();
    let (shift, rise) = (mean(&|way| way.shift), mean(&|way| way.rise));
    let single = change.ways.len() == 1;
    let shift_u = if single { change.u } else { mean(&|way| (way.shift - shift).powi(2)).sqrt() };
    let second = scale.time_s(1.0) - scale.time_s(0.0);
    MotionChange {
        time_s: scale.time_s(change.at + shift),
        u_s: shift_u * second,
        rise_s: rise * second,
        rise_u_s: mean(&|way| (way.rise - rise).powi(2)).sqrt() * second,
        given: change.given,
    }
}

#[cfg(test)]
mod tests;
