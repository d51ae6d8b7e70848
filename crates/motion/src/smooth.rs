//! Smooth position, speed and acceleration with their bands from a noisy curve: smoothing spline of degree 7.
//!
//! Values with variance at uneven times, gaps allowed, go in; value, rate, second and third derivative with their
//! covariance come out, at every frame and between. At an onset (contact) the second and third derivative may jump,
//! and the smoothness before and after is chosen apart, because a stationary curve rounds a kink off.

mod chain;
mod choose;

use crate::MotionFailure;
use crate::matrix::Matrix4;
use crate::samples::Sample;
use crate::spline::{Estimate, Node, between, estimate};
use chain::{Chain, Scale};
use choose::Choice;
use std::ops::Range;

/// How the smoothness of each stretch is chosen.
#[derive(Debug, Clone, PartialEq)]
pub enum Smoothness {
    /// Generalised cross-validation (Craven and Wahba 1979, Numer. Math. 31:377); the noise is estimated, stated
    /// variances only weigh the marks against each other.
    Gcv,
    /// Least predicted error with the stated variances taken as true (same source).
    KnownNoise,
    /// Strengths of the driving noise, as in [`Smoothed::q`]; stated variances taken as true.
    Fixed {
        /// One for each frame from the first mark on, unit² per s⁷; the last stands for all that follow. Not empty.
        q: Vec<f64>,
    },
}

/// Settings of [`smooth`]. "Unit" is the unit of the curve: metres or radians.
#[derive(Debug, Clone, PartialEq)]
pub struct SmoothOptions {
    /// How the smoothness is chosen.
    pub smoothness: Smoothness,
    /// Instants at which the second and third derivative may jump, s; those outside the marks are passed over.
    pub onsets_s: Vec<f64>,
    /// Standard uncertainty of the onsets, s; 0 or more.
    pub onset_u_s: f64,
    /// Size of a jump of the second derivative that is still ordinary, unit/s²; greater than 0.
    pub onset_jump: f64,
    /// Time in which such a jump may build up, s; greater than 0. It sets how far the third derivative may jump.
    pub onset_rise_s: f64,
    /// Cost of one equivalent parameter in cross-validation, 1 to 2: 1 is the plain criterion, 1.2 to 1.4 keeps it
    /// from following noise now and then (Kim and Gu 2004, J. R. Statist. Soc. B 66:337).
    pub parameter_cost: f64,
    /// Half-width of the gliding window over which the smoothness is chosen, marks, 5 or more; `None` for one
    /// smoothness throughout each stretch between onsets.
    pub window_marks: Option<usize>,
}

impl Default for SmoothOptions {
    fn default() -> Self {
        Self {
            smoothness: Smoothness::Gcv,
            onsets_s: Vec::new(),
            onset_u_s: 0.000_3,
            onset_jump: 200.0,
            onset_rise_s: 0.005,
            parameter_cost: 1.3,
            window_marks: Some(45),
        }
    }
}

impl SmoothOptions {
    /// Checks every setting's range.
    ///
    /// # Errors
    /// [`MotionFailure::Setting`] names the first setting out of range.
    pub fn check(&self) -> Result<(), MotionFailure> {
        let fault = |setting, value, rule| Err(MotionFailure::Setting { setting, value, rule });
        let positive = |value: f64| value.is_finite() && value > 0.0;
        if let Smoothness::Fixed { q } = &self.smoothness
            && (q.is_empty() || !q.iter().all(|&q| positive(q)))
        {
            let value = q.iter().copied().find(|&q| !positive(q)).unwrap_or(0.0);
            return fault("smoothness", value, "at least one strength must be given, each greater than 0");
        }
        if let Some(&onset) = self.onsets_s.iter().find(|onset| !onset.is_finite()) {
            return fault("onsets_s", onset, "it must be a number of seconds");
        }
        if !(self.onset_u_s.is_finite() && self.onset_u_s >= 0.0) {
            return fault("onset_u_s", self.onset_u_s, "it must be 0 or more");
        }
        if !positive(self.onset_jump) {
            return fault("onset_jump", self.onset_jump, "it must be greater than 0");
        }
        if !positive(self.onset_rise_s) {
            return fault("onset_rise_s", self.onset_rise_s, "it must be greater than 0");
        }
        if !(1.0..=2.0).contains(&self.parameter_cost) {
            return fault("parameter_cost", self.parameter_cost, "it must be from 1 to 2");
        }
        if let Some(half @ 0..5) = self.window_marks {
            #[expect(clippy::cast_precision_loss, reason = "a number below 5")]
            let value = half as f64;
            return fault("window_marks", value, "it must be 5 or more");
        }
        Ok(())
    }
}

/// A smooth curve with its bands, from the first to the last mark.
#[derive(Debug, Clone)]
pub struct Smoothed {
    /// Times of the frames from the first to the last mark, s.
    pub times_s: Vec<f64>,
    /// Value, rate, second and third derivative at each of them: unit, unit/s, unit/s², unit/s³.
    pub states: Vec<[f64; 4]>,
    /// Covariance of each state.
    pub covs: Vec<[[f64; 4]; 4]>,
    /// Strength of the driving noise on the way to each frame at the stated variances, unit²/s⁷: how rough the curve
    /// was let be. Given to [`Smoothness::Fixed`], it draws the same curve again.
    pub q: Vec<f64>,
    /// Scatter of the marks over that stated; with [`Smoothness::Gcv`] the bands already contain it.
    pub noise_scale: f64,
    /// Equivalent number of parameters: trace of the hat matrix.
    pub equivalent_parameters: f64,
    /// Number of marks used.
    pub n_marks: usize,
    nodes: Vec<Node>,
    estimates: Vec<Estimate>,
    scale: Scale,
    widened: f64,
}

impl Smoothed {
    /// State and covariance at any instant from the first to the last mark, exact under the model; `None` outside.
    #[must_use]
    pub fn at(&self, time_s: f64) -> Option<([f64; 4], [[f64; 4]; 4])> {
        let at = self.scale.steps(time_s);
        let end = self.nodes.len() - 1;
        if !(-1e-9..=self.nodes[end].at + 1e-9).contains(&at) {
            return None;
        }
        let after = self.nodes.partition_point(|node| node.at <= at);
        let before = after.saturating_sub(1);
        let ahead = at - self.nodes[before].at;
        let (state, cov) = if after > end || ahead <= 1e-9 {
            (self.estimates[before].state, self.estimates[before].cov)
        } else {
            let from = (&self.nodes[before], &self.estimates[before]);
            between(from, (&self.nodes[after], &self.estimates[after]), ahead)?
        };
        Some(self.scale.restored(at, state, &cov, self.widened))
    }
}

/// Smooths a curve of values with variance, one entry for each time.
///
/// Cost grows with the number of frames; the choice of smoothness repeats the estimate twenty times.
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
    let mut chain = chain::chain(times_s, samples, options)?;
    let why = "the marks do not determine a curve; add marks";
    let undetermined = MotionFailure::Degenerate { what: "smooth curve", why };
    let chosen = set_drives(&mut chain, options);
    let estimates = chosen.and_then(|()| estimate(&chain.nodes)).ok_or(undetermined)?;
    let fit = choose::fit(&chain.nodes, &estimates);
    let noise_scale = fit.noise_scale().unwrap_or(1.0);
    let widened = if options.smoothness == Smoothness::Gcv { noise_scale } else { 1.0 };
    let restored = chain.frames.iter().map(|&(node, _)| {
        let found = &estimates[node];
        chain.scale.restored(chain.nodes[node].at, found.state, &found.cov, widened)
    });
    let (states, covs) = restored.unzip::<[f64; 4], Matrix4, Vec<_>, Vec<_>>();
    Ok(Smoothed {
        times_s: chain.frames.iter().map(|&(_, time_s)| time_s).collect(),
        states,
        covs,
        q: chain.frames.iter().map(|&(node, _)| chain.scale.drive_per_s(chain.nodes[node].drive)).collect(),
        noise_scale,
        equivalent_parameters: fit.trace,
        n_marks: samples.iter().flatten().count(),
        nodes: chain.nodes,
        estimates,
        scale: chain.scale,
        widened,
    })
}

/// Sets the driving noise of every node.
fn set_drives(chain: &mut Chain, options: &SmoothOptions) -> Option<()> {
    let noise_known = match &options.smoothness {
        Smoothness::Fixed { q } => {
            fix_drives(chain, q);
            return Some(());
        }
        Smoothness::Gcv => false,
        Smoothness::KnownNoise => true,
    };
    let kinks = (1..chain.nodes.len()).filter(|&i| chain.nodes[i].jump[2] > 0.0);
    let mut starts: Vec<usize> = std::iter::once(0).chain(kinks).collect();
    starts.push(chain.nodes.len());
    let stretches: Vec<Range<usize>> = starts.windows(2).map(|pair| pair[0]..pair[1]).collect();
    let choice = Choice { noise_known, cost: options.parameter_cost, window: options.window_marks };
    choose::choose(&mut chain.nodes, &stretches, choice)
}

/// A kink between frames is driven as the frame before it up to the kink.
fn fix_drives(chain: &mut Chain, q: &[f64]) {
    let mut next = 0;
    for (frame, &(node, _)) in chain.frames.iter().enumerate() {
        let of_frame =
            |frame: usize| q.get(frame).or(q.last()).map_or(0.0, |&q| chain.scale.drive_per_step(q));
        for between in &mut chain.nodes[next..node] {
            between.drive = of_frame(frame.saturating_sub(1));
        }
        chain.nodes[node].drive = of_frame(frame);
        next = node + 1;
    }
}

#[cfg(test)]
mod tests;
