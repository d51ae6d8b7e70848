//! Which explanation fits: every single fault beside a sound channel, the best taken up, and so on until none helps.
//!
//! Generalised likelihood ratios with the penalty of the Bayesian information criterion (Schwarz 1978). What is not at fault is held
//! near a sound value within the film's own doubt, so that a fault of the film's is not laid at the sensor's door.

use crate::fit::{Around, Fit, Known, fit};
use crate::record::Marks;
use crate::shapes::Shape;
use crate::system::System;
use crate::{CrosscheckOptions, Explanation, Fault};

/// Smallest standard uncertainties with which a sound channel is held: keeps the equations well scaled.
const LEAST_U: Sound = Sound { gain: 1e-4, offset_m_s2: 1e-3, lag_s: 1e-6 };
/// Instants at which the zero may have moved: first look and second, s.
const STEP_LOOK_S: f64 = 0.004;
const STEP_LOOK_FINE_S: f64 = 0.000_5;
/// The zero is looked at from this long before contact to this long after.
const STEP_RANGE_S: (f64, f64) = (0.005, 0.15);
/// Doubt of the instant at which the zero moved, s.
const STEP_INSTANT_U_S: f64 = 0.000_5;
/// Most faults taken up together.
const MOST_FAULTS: usize = 5;
/// Degree of what is missing where a record is cut off, and where it stands still.
const CUT_DEGREE: usize = 2;
const STILL_DEGREE: usize = 1;

/// How far from gain 1, offset 0 and lag 0 a sound channel may appear, for the film's own doubts alone.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sound {
    pub(crate) gain: f64,
    pub(crate) offset_m_s2: f64,
    pub(crate) lag_s: f64,
}

/// What all explanations of one channel share.
pub(crate) struct Case<'a> {
    pub(crate) own: &'a System<'a>,
    /// Along the other axis, where its motion is strong enough to be followed.
    pub(crate) other: Option<&'a System<'a>>,
    pub(crate) marks: &'a Marks,
    /// Whether the film's motion is too weak for gain and lag.
    pub(crate) weak: bool,
    pub(crate) sound: Sound,
    pub(crate) contact_s: f64,
    pub(crate) options: &'a CrosscheckOptions,
}

/// What is taken to be at fault.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Model {
    pub(crate) other_axis: bool,
    pub(crate) reversed: bool,
    gain: bool,
    offset: bool,
    lag: bool,
    pub(crate) shapes: Vec<(Fault, Shape)>,
    n_terms: usize,
}

/// A model fitted.
#[derive(Debug, Clone)]
pub(crate) struct Tried {
    pub(crate) fault: Option<Fault>,
    pub(crate) model: Model,
    pub(crate) fit: Fit,
}

/// The explanation, and how it came about.
pub(crate) struct Chain {
    pub(crate) best: Tried,
    /// Faults in the order in which they were taken up, with the fall of the criterion.
    pub(crate) taken: Vec<(Fault, f64)>,
    pub(crate) explanations: Vec<Explanation>,
}

impl Case<'_> {
    pub(crate) fn system(&self, model: &Model) -> &System<'_> {
        if model.other_axis { self.other.unwrap_or(self.own) } else { self.own }
    }

    /// Whether gain and lag cannot be judged: the other axis is only offered where its motion is strong enough.
    pub(crate) fn is_weak(&self, model: &Model) -> bool {
        self.weak && !model.other_axis
    }

    /// The terms of a model, what is not at fault held near its sound value.
    pub(crate) fn held(&self, model: &Model) -> Known {
        let sign = if model.reversed { -1.0 } else { 1.0 };
        let weak = self.is_weak(model);
        let gain_u = if weak { self.options.gain_limit } else { self.sound.gain.max(LEAST_U.gain) };
        let lag_u = if weak { self.options.lag_limit_s } else { self.sound.lag_s.max(LEAST_U.lag_s) };
        Known {
            inverse_gain: (!model.gain).then_some((sign, gain_u)),
            offset: (!model.offset).then_some((0.0, self.sound.offset_m_s2.max(LEAST_U.offset_m_s2))),
            lag: (!model.lag).then_some((0.0, lag_u)),
            shapes: model.shapes.iter().map(|(_, shape)| shape.clone()).collect(),
        }
    }

    /// The same with gain, offset and lag free; gain and lag held within their limits where motion is weak.
    pub(crate) fn free(&self, model: &Model) -> Known {
        let weak = |centre: f64, limit: f64| self.is_weak(model).then_some((centre, limit));
        Known {
            inverse_gain: weak(1.0, self.options.gain_limit),
            offset: None,
            lag: weak(0.0, self.options.lag_limit_s),
            shapes: self.held(model).shapes,
        }
    }

    /// The best explanation; `None` when not even a sound channel can be fitted.
    pub(crate) fn explain(&self, look_lag_s: f64) -> Option<Chain> {
        let first = self.chain(look_lag_s, 1.0)?;
        let widening = self.widening(&first.best);
        if widening > 1.1 { self.chain(look_lag_s, widening) } else { Some(first) }
    }

    /// χ² per degree of freedom of a model, at least 1.
    fn widening(&self, tried: &Tried) -> f64 {
        let n_frames = self.system(&tried.model).n_frames();
        (tried.fit.chi2 / count(n_frames.saturating_sub(5 + tried.fit.shapes.len()).max(1))).max(1.0)
    }

    fn chain(&self, look_lag_s: f64, widening: f64) -> Option<Chain> {
        let sound = Model::default();
        let mut best = Tried { fault: None, fit: fit(self.own, 0.0, &self.held(&sound))?, model: sound };
        let mut taken = Vec::new();
        let mut explanations = Vec::new();
        for round in 0..MOST_FAULTS {
            let tried = self.one_more(&best, look_lag_s);
            if round == 0 {
                explanations = self.ranked(std::iter::once(&best).chain(&tried), widening);
            }
            let here = self.criterion(&best, widening);
            let next = tried
                .into_iter()
                .min_by(|a, b| self.criterion(a, widening).total_cmp(&self.criterion(b, widening)));
            let Some(next) = next else { break };
            let fall = here - self.criterion(&next, widening);
            if fall <= 0.0 {
                break;
            }
            taken.extend(next.fault.map(|fault| (fault, fall)));
            best = next;
        }
        Some(Chain { best, taken, explanations })
    }

    fn criterion(&self, tried: &Tried, widening: f64) -> f64 {
        let penalty = count(self.own.n_frames()).ln();
        tried.fit.chi2 / widening + penalty * count(tried.model.n_terms)
    }

    fn ranked<'t>(&self, tried: impl Iterator<Item = &'t Tried>, widening: f64) -> Vec<Explanation> {
        let mut ranked: Vec<Explanation> = tried
            .map(|tried| Explanation {
                fault: tried.fault,
                bic_above_best: self.criterion(tried, widening),
                agreement: (tried.fit.chi2 / count(self.system(&tried.model).n_frames().max(1))).sqrt(),
            })
            .collect();
        ranked.sort_by(|a, b| a.bic_above_best.total_cmp(&b.bic_above_best));
        let mut seen: Vec<Option<Fault>> = Vec::new();
        ranked.retain(|explanation| {
            let new = !seen.contains(&explanation.fault);
            seen.push(explanation.fault);
            new
        });
        let least = ranked.first().map_or(0.0, |best| best.bic_above_best);
        ranked.iter_mut().for_each(|explanation| explanation.bic_above_best -= least);
        ranked
    }

    /// Every model with one more fault, fitted; those that do not settle are left out.
    fn one_more(&self, from: &Tried, look_lag_s: f64) -> Vec<Tried> {
        let has = |fault: Fault| from.model.shapes.iter().any(|(of, _)| *of == fault);
        let mut models: Vec<(Fault, Model)> = Vec::new();
        let mut add = |fault: Fault, allowed: bool, change: &dyn Fn(&mut Model)| {
            if allowed {
                let mut model = Model { n_terms: from.model.n_terms + 1, ..from.model.clone() };
                change(&mut model);
                models.push((fault, model));
            }
        };
        let strong = !self.is_weak(&from.model);
        let fresh = from.model == Model::default();
        add(Fault::Gain, strong && !from.model.gain, &|model| model.gain = true);
        add(Fault::Offset, !from.model.offset, &|model| model.offset = true);
        add(Fault::Delay, strong && !from.model.lag, &|model| model.lag = true);
        add(Fault::Polarity, strong && !from.model.reversed, &|model| model.reversed = true);
        add(Fault::WrongAxis, fresh && self.other.is_some(), &|model| model.other_axis = true);
        add(Fault::WrongAxis, fresh && self.other.is_some(), &|model| {
            (model.other_axis, model.reversed) = (true, true);
        });
        let mut shaped = |fault: Fault, shape: Option<Shape>| {
            if let Some(shape) = shape.filter(|_| !has(fault)) {
                let n_terms = shape.n_terms();
                add(fault, true, &|model| {
                    model.shapes.push((fault, shape.clone()));
                    model.n_terms += n_terms - 1;
                });
            }
        };
        shaped(Fault::BaselineStep, if has(Fault::BaselineStep) { None } else { self.step(from) });
        shaped(Fault::Clipping, self.cut());
        shaped(Fault::Dropout, runs(&self.marks.still_s, STILL_DEGREE));
        shaped(Fault::Ringing, strong.then_some(Shape::Resonance));
        models
            .into_iter()
            .filter_map(|(fault, model)| {
                let fit = self.fitted(&model, from.fit.lag_s, look_lag_s)?;
                // A gain below zero is a reversed polarity, not a gain.
                let same_sign = (fit.inverse_gain < 0.0) == model.reversed;
                same_sign.then_some(Tried { fault: Some(fault), model, fit })
            })
            .collect()
    }

    /// The fit of a model; a lag that is free is also looked for from the lag that the first look found.
    fn fitted(&self, model: &Model, near_lag_s: f64, look_lag_s: f64) -> Option<Fit> {
        let (system, known) = (self.system(model), self.held(model));
        let near = fit(system, near_lag_s, &known);
        if known.lag.is_some() {
            return near;
        }
        let far = fit(system, look_lag_s, &known);
        [near, far].into_iter().flatten().min_by(|a, b| a.chi2.total_cmp(&b.chi2))
    }

    fn cut(&self) -> Option<Shape> {
        let longer = |a: &Vec<[f64; 2]>, b: &Vec<[f64; 2]>| length_s(a) >= length_s(b);
        let (top, bottom) = (&self.marks.at_top_s, &self.marks.at_bottom_s);
        runs(if longer(top, bottom) { top } else { bottom }, CUT_DEGREE)
    }

    /// The step of zero at the instant that leaves the smallest residual.
    fn step(&self, from: &Tried) -> Option<Shape> {
        let system = self.system(&from.model);
        let known = self.held(&from.model);
        // A lag that is held has been pulled aside by what the step is to explain.
        let lag_s = if known.lag.is_some() { 0.0 } else { from.fit.lag_s };
        let sign = if from.model.reversed { -1.0 } else { 1.0 };
        let around = Around::new(system, lag_s, sign, &known);
        let try_at = |from_s: f64| {
            let (chi2, size) = around.with(&system.step(from_s))?;
            Some((from_s, chi2, size))
        };
        let least =
            |times_s: Vec<f64>| times_s.into_iter().filter_map(try_at).min_by(|a, b| a.1.total_cmp(&b.1));
        let first_s = (self.contact_s - STEP_RANGE_S.0).max(system.frames.first_s());
        let last_s = (self.contact_s + STEP_RANGE_S.1).min(system.frames.last_s() - STEP_LOOK_S);
        let (near_s, _, _) = least(spaced(first_s, last_s, STEP_LOOK_S))?;
        let (from_s, _, size) = least(spaced(near_s - STEP_LOOK_S, near_s + STEP_LOOK_S, STEP_LOOK_FINE_S))?;
        Some(Shape::Step { from_s, jump_u_m_s: (size.abs() * STEP_INSTANT_U_S).max(1e-9) })
    }
}

fn runs(runs_s: &[[f64; 2]], degree: usize) -> Option<Shape> {
    (!runs_s.is_empty()).then(|| Shape::Runs { runs_s: runs_s.to_vec(), degree })
}

fn length_s(runs_s: &[[f64; 2]]) -> f64 {
    runs_s.iter().map(|run_s| run_s[1] - run_s[0]).sum()
}

fn spaced(from_s: f64, to_s: f64, step_s: f64) -> Vec<f64> {
    std::iter::successors(Some(from_s), |at_s| Some(at_s + step_s)).take_while(|at_s| *at_s <= to_s).collect()
}

#[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
pub(crate) fn count(n: usize) -> f64 {
    n as f64
}
