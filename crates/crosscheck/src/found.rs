//! Sizes of gain, offset, lag and of the faults of shape, with uncertainties that include the film's own.

use crate::chain::{Case, Model, count};
use crate::fit::{Fit, INVERSE_GAIN, Known, LAG, OFFSET, SHAPES, correlation};
use crate::shapes::Shape;
use crate::{CrosscheckOptions, Fault, Measured};

/// What the joint fit found.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Found {
    pub(crate) gain: Option<Measured>,
    pub(crate) offset_m_s2: Measured,
    pub(crate) lag_s: Option<Measured>,
    pub(crate) correlation: f64,
    /// What the covariance and differences of χ² are widened by; at least 1.
    pub(crate) widening: f64,
    /// Of the gain, from noise alone.
    pub(crate) gain_noise_u: f64,
    /// √(χ²/degrees of freedom).
    pub(crate) agreement: f64,
    pub(crate) sizes: Vec<(Fault, Size)>,
}

/// How large a fault of shape is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Size {
    /// The zero moved by this much, m/s², at this time, s.
    Step { moved_m_s2: Measured, from_s: f64 },
    /// Speed that the record lost, m/s; above 0 where more was to be read than was. Longest stretch, s.
    Lost { speed_m_s: Measured, longest_s: [f64; 2] },
    /// 1 / ω² of the resonance, s².
    Resonance { inverse_square_s2: Measured },
}

impl Found {
    /// Whether the channel is reversed rather than merely unlike.
    pub(crate) fn reversed(&self, options: &CrosscheckOptions) -> bool {
        self.gain.is_some_and(|gain| gain.value < 0.0) && self.correlation < -options.polarity_correlation
    }
}

/// The figures of a joint fit, with gain and lag only where they were free.
pub(crate) fn found(case: &Case<'_>, model: &Model, full: &Fit, known: &Known) -> Found {
    let system = case.system(model);
    let n_held = usize::from(known.inverse_gain.is_some()) + usize::from(known.lag.is_some());
    let n_terms = SHAPES + full.shapes.len() - n_held;
    let chi2_share = full.chi2 / count(system.n_frames().saturating_sub(n_terms).max(1));
    let widening = chi2_share.max(1.0);
    let ratio = Ratio { full, widening };
    let sound = case.sound;
    let measured = |value: f64, noise: f64, film_u: f64| Measured { value, u: noise.hypot(film_u) };
    let gain = 1.0 / full.inverse_gain;
    let gain_noise_u =
        (widening * full.covariance[(INVERSE_GAIN, INVERSE_GAIN)]).max(0.0).sqrt() * gain * gain;
    let offset = ratio.over_gain(OFFSET, full.offset);
    Found {
        gain: known.inverse_gain.is_none().then(|| measured(gain, gain_noise_u, gain * sound.gain)),
        offset_m_s2: measured(offset.value, offset.u, sound.offset_m_s2),
        lag_s: known.lag.is_none().then(|| {
            let noise = (widening * full.covariance[(LAG, LAG)]).max(0.0).sqrt();
            measured(full.lag_s, noise, sound.lag_s)
        }),
        correlation: correlation(system, full.lag_s).unwrap_or_default(),
        widening,
        gain_noise_u,
        agreement: chi2_share.sqrt(),
        sizes: sizes(model, &ratio),
    }
}

fn sizes(model: &Model, ratio: &Ratio<'_>) -> Vec<(Fault, Size)> {
    let mut at = 0;
    let mut sizes = Vec::new();
    for (fault, shape) in &model.shapes {
        sizes.push((*fault, ratio.size(shape, at)));
        at += shape.known().len();
    }
    sizes
}

/// Terms of the fit are over the gain; this takes the gain out again, with its covariance.
struct Ratio<'a> {
    full: &'a Fit,
    widening: f64,
}

impl Ratio<'_> {
    fn size(&self, shape: &Shape, at: usize) -> Size {
        match shape {
            Shape::Step { from_s, .. } => {
                Size::Step { moved_m_s2: self.over_gain(SHAPES + at, self.full.shapes[at]), from_s: *from_s }
            }
            Shape::Runs { runs_s, degree } => {
                let weights: Vec<(usize, f64)> = runs_s
                    .iter()
                    .enumerate()
                    .map(|(run, run_s)| (at + run * (degree + 1), run_s[1] - run_s[0]))
                    .collect();
                let longest_s = runs_s.first().copied().unwrap_or_default();
                Size::Lost { speed_m_s: self.sum(&weights), longest_s }
            }
            Shape::Resonance => {
                let beside_lag = self.over_gain(SHAPES + at, self.full.shapes[at]);
                // A lag τ brings τ² / 2 of the second derivative with it: Taylor's series of reading(t + τ).
                let value = beside_lag.value + 0.5 * self.full.lag_s * self.full.lag_s;
                Size::Resonance { inverse_square_s2: Measured { value, ..beside_lag } }
            }
        }
    }

    /// q / p for a term q of the fit: its change is (dq − (q/p) dp) / p.
    fn over_gain(&self, term: usize, q: f64) -> Measured {
        let (p, c) = (self.full.inverse_gain, &self.full.covariance);
        let value = q / p;
        let variance = c[(term, term)] - 2.0 * value * c[(INVERSE_GAIN, term)]
            + value * value * c[(INVERSE_GAIN, INVERSE_GAIN)];
        Measured { value, u: (self.widening * variance.max(0.0)).sqrt() / p.abs() }
    }

    /// A weighted sum of shapes' sizes, as the reading would have shown it for a gain of 1 or −1.
    fn sum(&self, weights: &[(usize, f64)]) -> Measured {
        let c = &self.full.covariance;
        let value: f64 = weights.iter().map(|(at, weight)| weight * self.full.shapes[*at]).sum();
        let variance: f64 = weights
            .iter()
            .flat_map(|(a, of_a)| weights.iter().map(move |(b, of_b)| (a, b, of_a * of_b)))
            .map(|(a, b, weight)| weight * c[(SHAPES + a, SHAPES + b)])
            .sum();
        let u = (self.widening * variance.max(0.0)).sqrt();
        Measured { value: value * self.full.inverse_gain.signum(), u }
    }
}
