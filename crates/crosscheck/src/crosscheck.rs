//! Film against one channel, from start to verdict.

use crate::chain::{Case, Chain, Model, Sound, count};
use crate::class::other_class;
use crate::faults::Evidence;
use crate::film::{FilmAtSensor, SensedAxis};
use crate::fit::{Fit, Known, fit, look_for_lag, motion_chi2};
use crate::found::{Found, found};
use crate::frames::frames_in_common;
use crate::integrals::resting_m_s2;
use crate::noise::sensor_noise;
use crate::record::marks;
use crate::system::System;
use crate::verdict::verdict;
use crate::{Crosscheck, CrosscheckFailure, CrosscheckOptions, Fault, Suspected};
use filmgauge_quantities::STANDARD_GRAVITY_M_S2;
use filmgauge_sensors::Channel;

/// The lag may move by this much after the frames have been chosen for it, s.
const LAG_MARGIN_S: f64 = 0.001;

/// A channel that leaves more than this share of the film's motion, in squares of displacement, is of another axis or place.
/// The faults that are known by their form leave far less.
const LARGEST_UNEXPLAINED: f64 = 0.05;

/// Compares a channel with the film's motion of the place where its sensor sits.
///
/// The channel must be in m/s², unfiltered or of class 180, with its offset kept, and oriented in vehicle
/// axes (x forward, z up). Stated uncertainties hold film noise, sensor noise, the film's scale (gain) and
/// time zero (lag), and are widened where the residual is larger than noise explains.
///
/// # Errors
/// [`CrosscheckFailure`] with the reason: settings, unusable film or channel, too few frames in common, or a
/// channel that does not settle on any lag.
pub fn crosscheck(
    film: &FilmAtSensor,
    channel: &Channel,
    axis: SensedAxis,
    options: &CrosscheckOptions,
) -> Result<Crosscheck, CrosscheckFailure> {
    options.check()?;
    film.check()?;
    check_channel(channel, "m/s2")?;
    let noise_m2_s3 = sensor_noise(channel, film.contact_s, options);
    let build = |film: &FilmAtSensor, axis: SensedAxis, lags_s: [f64; 2]| {
        let frames = frames_in_common(film, channel, options, lags_s)?;
        System::new(film, channel, axis, options, frames, noise_m2_s3)
    };
    let wide = build(film, axis, [0.0, 0.0])?;
    let weak = !enough_motion(&wide, options);
    let turned = film.along_other();
    let other = turned.as_ref().and_then(|turned| build(turned, axis.other(), [0.0, 0.0]).ok());
    let other = other.filter(|other| enough_motion(other, options));
    let lag_s = if weak { None } else { look_for_lag(&wide, options.lag_search_s) };
    let near_s = lag_s.unwrap_or_default();
    let system = if weak { wide } else { build(film, axis, [near_s - LAG_MARGIN_S, near_s + LAG_MARGIN_S])? };
    let case = Case {
        sound: sound_within(film, axis, options, &system),
        own: &system,
        other: other.as_ref(),
        marks: &marks(channel, [system.frames.first_s(), system.frames.last_s()]),
        weak,
        contact_s: film.contact_s,
        options,
    };
    Judged { case, axis, channel, film }.outcome(near_s)
}

/// Whether a record is usable, in the unit wanted.
pub(crate) fn check_channel(channel: &Channel, unit: &str) -> Result<(), CrosscheckFailure> {
    let wrong = |problem: String| CrosscheckFailure::Channel { code: channel.code.clone(), problem };
    channel.check().map_err(|error| wrong(error.to_string()))?;
    if channel.unit != unit {
        return Err(wrong(format!("is in \"{}\"; convert it to {unit} first", channel.unit)));
    }
    let first = channel.values[0].to_bits();
    if channel.values.iter().all(|value| value.to_bits() == first) {
        return Err(wrong("reads the same value throughout; the sensor or its cable is dead".to_owned()));
    }
    Ok(())
}

fn unsettled(channel: &Channel, problem: impl Into<String>) -> CrosscheckFailure {
    CrosscheckFailure::NotDetermined { code: channel.code.clone(), problem: problem.into() }
}

fn sound_within(
    film: &FilmAtSensor,
    axis: SensedAxis,
    options: &CrosscheckOptions,
    system: &System<'_>,
) -> Sound {
    // A film scale that is wrong by e scales the acceleration but not gravity: e g is left in a z channel.
    let gravity = match axis {
        SensedAxis::X => 0.0,
        SensedAxis::Z => STANDARD_GRAVITY_M_S2,
    };
    let zeroed = if options.zeroed_at_rest { resting_m_s2(film, axis, system.frames.first_s()) } else { 0.0 };
    Sound {
        gain: film.gain_relative_u,
        offset_m_s2: film.gain_relative_u * (gravity - zeroed).abs().min(gravity),
        lag_s: film.time_u_s,
    }
}

/// Whether the film's motion would determine a sound channel's gain.
fn enough_motion(system: &System<'_>, options: &CrosscheckOptions) -> bool {
    let freedom = freedom(system, 3);
    let signal = motion_chi2(system).map_or(0.0, |chi2| chi2 - freedom);
    signal * options.gain_u_limit * options.gain_u_limit > 1.0
}

fn freedom(system: &System<'_>, n_terms: usize) -> f64 {
    count(system.n_frames().saturating_sub(n_terms).max(1))
}

/// Share of the film's motion that a fit leaves, in squares.
fn unexplained(system: &System<'_>, full: &Fit) -> f64 {
    motion_chi2(system).map_or(0.0, |motion| full.chi2 / motion.max(f64::MIN_POSITIVE))
}

/// One channel on its way to the verdict.
struct Judged<'a> {
    case: Case<'a>,
    axis: SensedAxis,
    channel: &'a Channel,
    film: &'a FilmAtSensor,
}

impl Judged<'_> {
    fn outcome(&self, near_s: f64) -> Result<Crosscheck, CrosscheckFailure> {
        let chain = self
            .case
            .explain(near_s)
            .ok_or_else(|| unsettled(self.channel, "its columns are not independent"))?;
        let joint = self.joint(&chain).or_else(|failure| self.unlike().ok_or(failure))?;
        let evidence = Evidence {
            case: &self.case,
            found: &joint.found,
            taken: &chain.taken,
            axis: self.axis,
            class: other_class(self.channel, self.film.contact_s),
            channel: self.channel,
        };
        let suspected =
            if self.follows_neither(&joint) { self.neither(&chain, &joint) } else { evidence.suspected() };
        Ok(self.told(&chain, joint, suspected))
    }

    /// Gain, offset and lag free together with the faults of shape that were taken up.
    fn joint(&self, chain: &Chain) -> Result<Joint, CrosscheckFailure> {
        let options = self.case.options;
        let model = &chain.best.model;
        let system = self.case.system(model);
        let mut known = self.case.free(model);
        let fitted = |known: &Known, problem: &str| {
            fit(system, chain.best.fit.lag_s, known).ok_or_else(|| unsettled(self.channel, problem))
        };
        let mut full = fitted(&known, "no lag fits best; is it a channel of this test?")?;
        let beyond = full.lag_s.abs() >= options.lag_search_s;
        if beyond && unexplained(system, &full) > LARGEST_UNEXPLAINED {
            return Err(unsettled(self.channel, "it follows the film at no lag"));
        }
        if beyond {
            let limit_ms = options.lag_search_s * 1e3;
            return Err(unsettled(
                self.channel,
                format!("its lag reaches the search limit of {limit_ms} ms; check its time zero"),
            ));
        }
        let mut figures = found(&self.case, model, &full, &known);
        if figures.lag_s.is_some_and(|lag| lag.u > options.lag_u_limit_s) {
            known.lag = Some((0.0, options.lag_limit_s));
            full = fitted(&known, "with its lag held it does not settle")?;
            figures = found(&self.case, model, &full, &known);
        }
        if !(full.inverse_gain.is_finite() && full.inverse_gain != 0.0) {
            return Err(unsettled(
                self.channel,
                "its gain cannot be stated; the reading is out of all proportion",
            ));
        }
        Ok(Joint { model: model.clone(), full, found: figures })
    }

    /// A channel that no gain and lag bring near the film: judged as if it were sound, which it is not.
    fn unlike(&self) -> Option<Joint> {
        let (options, model) = (self.case.options, Model::default());
        let known = Known {
            inverse_gain: Some((1.0, options.gain_limit)),
            lag: Some((0.0, options.lag_limit_s)),
            ..Known::default()
        };
        let full = fit(self.case.own, 0.0, &known)?;
        let found = found(&self.case, &model, &full, &known);
        let joint = Joint { model, full, found };
        self.follows_neither(&joint).then_some(joint)
    }

    /// Whether much of the film's motion is left when gain, offset and lag have done what they can.
    fn follows_neither(&self, joint: &Joint) -> bool {
        !self.case.is_weak(&joint.model)
            && !joint.model.other_axis
            && joint.found.agreement > self.case.options.agreement_limit
            && unexplained(self.case.own, &joint.full) > LARGEST_UNEXPLAINED
    }

    fn neither(&self, chain: &Chain, joint: &Joint) -> Vec<Suspected> {
        let evidence = format!(
            "follows the film's motion neither {} nor {}: with every gain and lag the residual is {:.0} times what noise explains",
            self.axis.word(),
            self.axis.other().word(),
            joint.found.agreement
        );
        let bic_gain = chain.taken.iter().map(|(_, fall)| fall).sum();
        vec![Suspected { fault: Fault::WrongAxis, evidence, size: None, bic_gain }]
    }

    fn told(&self, chain: &Chain, joint: Joint, suspected: Vec<Suspected>) -> Crosscheck {
        let system = self.case.system(&joint.model);
        let residual_m = system.in_metres(&joint.full.residual);
        let found = joint.found;
        Crosscheck {
            gain: found.gain,
            offset_m_s2: found.offset_m_s2,
            lag_s: found.lag_s,
            residual_rms_m: residual_m.norm() / count(system.n_frames()).sqrt(),
            agreement: found.agreement,
            verdict: verdict(&found, &suspected, self.case.sound, self.case.options),
            suspected,
            explanations: chain.explanations.clone(),
            used_from_s: system.frames.first_s(),
            used_to_s: system.frames.last_s(),
            n_samples: system.n_frames(),
            correlation: found.correlation,
        }
    }
}

/// The joint fit and its figures.
struct Joint {
    model: Model,
    full: Fit,
    found: Found,
}
