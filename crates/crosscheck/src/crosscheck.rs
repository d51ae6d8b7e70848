//! Film against one channel, from start to verdict.

use crate::faults::{Found, Sound, suspected_faults};
use crate::film::{FilmAtSensor, SensedAxis};
use crate::fit::{Fit, Known, correlation, fit, look_for_lag, motion_chi2};
use crate::frames::frames_in_common;
use crate::integrals::resting_m_s2;
use crate::noise::sensor_noise;
use crate::system::System;
use crate::verdict::verdict;
use crate::{Crosscheck, CrosscheckFailure, CrosscheckOptions, Measured};
use filmgauge_quantities::STANDARD_GRAVITY_M_S2;
use filmgauge_sensors::Channel;

/// The lag may move by this much after the frames have been chosen for it, s.
const LAG_MARGIN_S: f64 = 0.001;
/// Terms of the full fit: start, start speed, gain, offset, lag.
const N_TERMS: usize = 5;

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
    check_channel(channel)?;
    let noise_m2_s3 = sensor_noise(channel, film.contact_s, options);
    let build = |lags_s: [f64; 2]| {
        let frames = frames_in_common(film, channel, options, lags_s)?;
        System::new(film, channel, axis, options, frames, noise_m2_s3)
    };
    let wide = build([0.0, 0.0])?;
    let sound = sound_within(film, axis, options, &wide);
    if !enough_motion(&wide, options) {
        return weak_motion(&wide, channel, sound, options);
    }
    let lag_s = look_for_lag(&wide, options.lag_search_s)
        .ok_or_else(|| unsettled(channel, "its columns are not independent"))?;
    let system = build([lag_s - LAG_MARGIN_S, lag_s + LAG_MARGIN_S])?;
    strong_motion(&system, channel, lag_s, sound, options)
}

fn check_channel(channel: &Channel) -> Result<(), CrosscheckFailure> {
    let wrong = |problem: String| CrosscheckFailure::Channel { code: channel.code.clone(), problem };
    channel.check().map_err(|error| wrong(error.to_string()))?;
    if channel.unit != "m/s2" {
        return Err(wrong(format!("is in \"{}\"; convert it to m/s2 first", channel.unit)));
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

#[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^53")]
fn freedom(system: &System<'_>, n_terms: usize) -> f64 {
    system.n_frames().saturating_sub(n_terms).max(1) as f64
}

/// Gain and lag are held at sound values within their limits; only the offset is judged.
fn weak_motion(
    system: &System<'_>,
    channel: &Channel,
    sound: Sound,
    options: &CrosscheckOptions,
) -> Result<Crosscheck, CrosscheckFailure> {
    let known = Known {
        inverse_gain: Some((1.0, options.gain_limit)),
        lag: Some((0.0, options.lag_limit_s)),
        ..Known::default()
    };
    let full = fit(system, 0.0, &known)
        .ok_or_else(|| unsettled(channel, "even with gain and lag held it does not settle"))?;
    let mut found = found_by(system, &full, N_TERMS - 2, sound);
    (found.gain, found.lag_s) = (None, None);
    Ok(outcome(system, &full, &known, found, sound, options))
}

fn strong_motion(
    system: &System<'_>,
    channel: &Channel,
    lag_s: f64,
    sound: Sound,
    options: &CrosscheckOptions,
) -> Result<Crosscheck, CrosscheckFailure> {
    let mut known = Known::default();
    let mut full = fit(system, lag_s, &known)
        .ok_or_else(|| unsettled(channel, "no lag fits best; is it a channel of this test?"))?;
    if full.lag_s.abs() >= options.lag_search_s {
        let limit_ms = options.lag_search_s * 1e3;
        return Err(unsettled(
            channel,
            format!("its lag reaches the search limit of {limit_ms} ms; check its time zero"),
        ));
    }
    let mut found = found_by(system, &full, N_TERMS, sound);
    if found.lag_s.is_some_and(|lag| lag.u > options.lag_u_limit_s) {
        known.lag = Some((0.0, options.lag_limit_s));
        full = fit(system, 0.0, &known)
            .ok_or_else(|| unsettled(channel, "with its lag held it does not settle"))?;
        found = Found { lag_s: None, ..found_by(system, &full, N_TERMS - 1, sound) };
    }
    if !(full.inverse_gain.is_finite() && full.inverse_gain != 0.0) {
        return Err(unsettled(channel, "its gain cannot be stated; the reading is out of all proportion"));
    }
    Ok(outcome(system, &full, &known, found, sound, options))
}

/// Gain, offset and lag with uncertainties from the covariance of the fitted terms.
fn found_by(system: &System<'_>, full: &Fit, n_terms: usize, sound: Sound) -> Found {
    let widening = (full.chi2 / freedom(system, n_terms)).max(1.0);
    let (p, q) = (full.inverse_gain, full.offset);
    let c = &full.covariance;
    let gain = 1.0 / p;
    let offset = q / p;
    let gain_noise = widening * c[(2, 2)] / p.powi(4);
    // offset = q / p, so its change is (dq − offset dp) / p.
    let offset_noise =
        widening * (c[(3, 3)] - 2.0 * offset * c[(2, 3)] + offset * offset * c[(2, 2)]) / (p * p);
    let lag_noise = widening * c[(4, 4)];
    let measured = |value: f64, noise: f64, film_u: f64| Measured {
        value,
        u: (noise.max(0.0) + film_u * film_u).sqrt(),
    };
    Found {
        gain: Some(measured(gain, gain_noise, gain * sound.gain)),
        offset_m_s2: measured(offset, offset_noise, sound.offset_m_s2),
        lag_s: Some(measured(full.lag_s, lag_noise, sound.lag_s)),
        correlation: correlation(system, full.lag_s).unwrap_or_default(),
        widening,
    }
}

#[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^53")]
fn outcome(
    system: &System<'_>,
    full: &Fit,
    known: &Known,
    found: Found,
    sound: Sound,
    options: &CrosscheckOptions,
) -> Crosscheck {
    let suspected = suspected_faults(system, full, known, &found, sound, options);
    let n_held = usize::from(known.inverse_gain.is_some()) + usize::from(known.lag.is_some());
    let agreement = (full.chi2 / freedom(system, N_TERMS - n_held)).sqrt();
    let gain_noise_u =
        (found.widening * full.covariance[(2, 2)]).sqrt() / (full.inverse_gain * full.inverse_gain);
    let residual_m = system.in_metres(&full.residual);
    Crosscheck {
        gain: found.gain,
        offset_m_s2: found.offset_m_s2,
        lag_s: found.lag_s,
        residual_rms_m: residual_m.norm() / (system.n_frames() as f64).sqrt(),
        agreement,
        verdict: verdict(&found, gain_noise_u, agreement, &suspected, sound, options),
        suspected,
        used_from_s: system.frames.first_s(),
        used_to_s: system.frames.last_s(),
        n_samples: system.n_frames(),
        correlation: found.correlation,
    }
}
