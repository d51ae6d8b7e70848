//! How a change of the motion began and built up: not known, so averaged over a row of models by their likelihood.
//!
//! Each model puts the start at some shift from the stated instant and lets the second derivative build up in some
//! time. Within that time the curve is driven hard enough for a jump of ordinary size; before and after as usual. Long
//! rises are less likely beforehand than short ones, the shifts normally distributed (Hoeting et al. 1999, Statist.
//! Sci. 14:382).

use crate::smooth::SmoothOptions;
use crate::smooth::chain::{Bend, Chain, Laid};
use crate::smooth::scale::Scale;
use crate::spline::{Degree, Estimate, Messages, estimate_window, likelihood};
use std::ops::Range;

/// Frames before and after a change within which its models are averaged.
pub(crate) const SPREAD: (usize, usize) = (60, 90);
/// Frames before and after it within which they are weighed: outside they hardly differ.
pub(crate) const NEAR: (usize, usize) = (25, 45);
/// Driving noise while a change builds up, over that which would by itself make a jump of ordinary size.
const BURST: f64 = 3.0;
/// Models with less than this share of the likeliest one's weight are dropped.
const LEAST_WEIGHT: f64 = 0.01;
/// Most models kept of one change.
const MOST_MODELS: usize = 16;

/// One way in which a change may have happened.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Way {
    /// Start after the stated instant, steps.
    pub(crate) shift: f64,
    /// Time of building up, steps; 0 for a sharp kink.
    pub(crate) rise: f64,
    /// Probability, or its logarithm up to a constant while models are compared.
    pub(crate) weight: f64,
}

/// A change of the motion with the ways in which it may have happened, the likeliest first.
#[derive(Debug, Clone)]
pub(crate) struct Change {
    /// Stated or found instant, steps.
    pub(crate) at: f64,
    /// Its standard uncertainty, steps.
    pub(crate) u: f64,
    /// Whether it was given and not found.
    pub(crate) given: bool,
    pub(crate) ways: Vec<Way>,
}

/// What a change may do to the state, in chain units.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kick {
    degree: Degree,
    /// Standard deviation of the jump of the second derivative.
    jump: f64,
    /// Steps in which a sharp jump may build up.
    rise: f64,
}

impl Kick {
    pub(crate) fn of(scale: &Scale, options: &SmoothOptions) -> Self {
        Self {
            degree: options.degree,
            jump: scale.derivative(options.onset_jump, 2),
            rise: scale.span(options.onset_rise_s),
        }
    }

    /// Variances of a sharp kink whose instant is known to `u` steps.
    pub(crate) fn sharp(&self, u: f64) -> [f64; 4] {
        let third = if self.degree == Degree::Five { 0.0 } else { self.jump / self.rise };
        [0.0, self.jump * u, self.jump, third].map(|sd| sd * sd)
    }

    /// The bend of a change that happened in one way; `doubt` is what remains unknown of its instant, steps.
    fn bend(&self, at: f64, way: &Way, doubt: f64) -> Bend {
        let at = at + way.shift;
        if way.rise <= 0.0 {
            return Bend { at, rise: 0.0, jump: self.sharp(doubt), end_jump: [0.0; 4], burst: 0.0 };
        }
        let third = (self.jump / way.rise).powi(2);
        let (jump, burst) = match self.degree {
            Degree::Five => ([0.0; 4], BURST * self.jump * self.jump / way.rise),
            Degree::Seven => ([0.0, 0.0, 0.0, third], BURST * third / way.rise),
        };
        Bend { at, rise: way.rise, jump, end_jump: jump, burst }
    }
}

impl Change {
    /// A change of which nothing is known yet but its instant: a sharp kink.
    pub(crate) fn sharp(at: f64, u: f64, given: bool) -> Self {
        Self { at, u, given, ways: vec![Way { shift: 0.0, rise: 0.0, weight: 1.0 }] }
    }

    /// Moves the instant to where its ways say it is, a found change being known no better beforehand.
    pub(crate) fn recentre(&mut self) {
        let shift: f64 = self.ways.iter().map(|way| way.weight * way.shift).sum();
        self.at += shift;
        self.ways.iter_mut().for_each(|way| way.shift -= shift);
    }

    /// The bend of one of its ways.
    pub(crate) fn bend(&self, kick: &Kick, way: &Way) -> Bend {
        // A single way must carry the whole doubt of the instant.
        let doubt = if self.ways.len() == 1 && way.shift == 0.0 { self.u } else { 0.25 * self.u };
        kick.bend(self.at, way, doubt)
    }

    /// Its likeliest bend.
    pub(crate) fn likeliest(&self, kick: &Kick) -> Bend {
        self.bend(kick, &self.ways[0])
    }
}

/// One model of the frames about a change.
#[derive(Debug, Clone)]
pub(crate) struct Local {
    pub(crate) weight: f64,
    pub(crate) laid: Laid,
    pub(crate) states: Vec<Estimate>,
}

/// A chain with its changes as far as they are known.
pub(crate) struct Setting<'a> {
    pub(crate) chain: &'a Chain,
    pub(crate) drives: &'a [f64],
    pub(crate) kick: Kick,
    /// Scatter of the marks over that stated.
    pub(crate) noise_scale: f64,
}

impl Setting<'_> {
    /// The likeliest bend of each change.
    pub(crate) fn bends(&self, changes: &[Change]) -> Vec<Bend> {
        changes.iter().map(|change| change.likeliest(&self.kick)).collect()
    }

    /// Frames about a change.
    pub(crate) fn window(&self, change: &Change, (before, after): (usize, usize)) -> Range<usize> {
        let middle = self.chain.frame_before(change.at);
        middle.saturating_sub(before)..(middle + after).min(self.chain.frames.len())
    }

    /// Logarithms of the weights of the ways of change `k`, given the other changes as they are. `whole` is the chain
    /// with all changes' likeliest bends.
    pub(crate) fn weights(
        &self,
        changes: &[Change],
        k: usize,
        (laid, messages): (&Laid, &Messages),
        ways: &[Way],
    ) -> Vec<f64> {
        let window = self.window(&changes[k], NEAR);
        let (before, after) =
            (&messages.before[laid.of_frame[window.start]], &messages.after[laid.of_frame[window.end - 1]]);
        let trial = Change { ways: ways.to_vec(), ..changes[k] };
        let mut bends = self.bends(changes);
        let weight = |way: &Way| {
            bends[k] = trial.bend(&self.kick, way);
            let part = self.chain.laid(window.clone(), &bends, self.drives);
            let found = likelihood(self.chain.degree, &part.nodes, before, after);
            found.map_or(f64::NEG_INFINITY, |found| way.weight + found.log(self.noise_scale))
        };
        ways.iter().map(weight).collect()
    }

    /// The models of change `k` at the weights that it has.
    pub(crate) fn models(
        &self,
        changes: &[Change],
        k: usize,
        (laid, messages): (&Laid, &Messages),
    ) -> Vec<Local> {
        let window = self.window(&changes[k], SPREAD);
        let (before, after) =
            (&messages.before[laid.of_frame[window.start]], &messages.after[laid.of_frame[window.end - 1]]);
        let mut bends = self.bends(changes);
        let mut models = Vec::with_capacity(changes[k].ways.len());
        for way in &changes[k].ways {
            bends[k] = changes[k].bend(&self.kick, way);
            let part = self.chain.laid(window.clone(), &bends, self.drives);
            if let Some(states) = estimate_window(self.chain.degree, &part.nodes, before, after) {
                models.push(Local { weight: way.weight, laid: part, states });
            }
        }
        let total: f64 = models.iter().map(|model| model.weight).sum();
        models.iter_mut().for_each(|model| model.weight /= total);
        models
    }
}

/// Ways to be compared: all rises at all shifts, with the logarithm of their prior. Marks tell little of the rise, and
/// an impact's are short: a rise is the less likely beforehand, the more frames it lasts.
pub(crate) fn candidates(change: &Change, rises: &[f64]) -> Vec<Way> {
    let shifts: &[f64] =
        if change.u < 0.02 { &[0.0] } else { &[-2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0] };
    let way = |&rise: &f64| {
        shifts.iter().map(move |&s| Way {
            shift: s * change.u,
            rise,
            weight: -0.5 * s * s - (1.0 + rise).ln(),
        })
    };
    rises.iter().flat_map(way).collect()
}

/// Keeps the likely ones, the likeliest first, as places in the list with probabilities that sum to one; and the
/// logarithm of the mean likelihood of all.
pub(crate) fn kept(log_weights: &[f64]) -> (Vec<(usize, f64)>, f64) {
    let most = log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !most.is_finite() {
        return (Vec::new(), most);
    }
    let shares: Vec<f64> = log_weights.iter().map(|log| (log - most).exp()).collect();
    #[expect(clippy::cast_precision_loss, reason = "some tens of ways")]
    let mean = shares.iter().sum::<f64>() / shares.len() as f64;
    let mut all: Vec<(usize, f64)> =
        shares.into_iter().enumerate().filter(|way| way.1 >= LEAST_WEIGHT).collect();
    all.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    all.truncate(MOST_MODELS);
    let total: f64 = all.iter().map(|way| way.1).sum();
    (all.iter().map(|&(place, weight)| (place, weight / total)).collect(), most + mean.ln())
}
