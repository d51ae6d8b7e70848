//! Channels of the dossier: read, to SI, film beside them at the sensor's own place.

use super::budget::Budgeted;
use super::evaluate::{BodyState, Sample};
use crate::document::{AxisEntry, StepEntry, SwitchEntry};
use crate::load::Dossier;
use crate::options::RunOptions;
use crate::plan::{ChannelPlan, Plan};
use filmgauge_crosscheck::{Crosscheck, FilmAtSensor, Measured, OtherAxis, SensedAxis};
use filmgauge_motion::Smoothed;
use filmgauge_quantities::PlanePoint;
use filmgauge_results::{CrosscheckResult, ExplanationTried, Notice, Severity, SuspectedFault, ValueAndU};
use filmgauge_sensors::{Channel, ChannelCode};
use filmgauge_timing::{Crossing, SwitchOptions};

/// One channel of the plan as read: SI, forward and upward positive, zero offset kept.
pub(crate) struct Record<'a> {
    pub(crate) plan: &'a ChannelPlan,
    pub(crate) channel: Result<Channel, String>,
}

/// Reads every channel; one that cannot be read keeps its reason. The notice says why a switch could not be used.
pub(crate) fn read<'a>(dossier: &Dossier, plan: &'a Plan) -> (Vec<Record<'a>>, Option<Notice>) {
    let switch = dossier.document.test.switch.as_ref();
    let switched = switch.map(|switch| (switch, switch_instant_s(dossier, switch)));
    let zero_s = switched.as_ref().and_then(|(_, instant_s)| instant_s.as_ref().ok().copied());
    let fault = switched.and_then(|(switch, instant_s)| {
        Some(Notice {
            severity: Severity::Person,
            place: format!("switch {}", switch.code),
            text: instant_s.err()?,
            remedy: "Mend the file, or give the level; sensors count from their own zero until then".into(),
        })
    });
    let records = plan
        .channels
        .iter()
        .map(|channel| {
            let read = filmgauge_sensors::read(
                &dossier.root.join(&channel.file),
                &channel.code,
                channel.unit.as_deref(),
            );
            let si = read.and_then(|read| filmgauge_sensors::to_si(&read)).map_err(|error| error.to_string());
            let mut signed = si.and_then(|si| signed(si, channel, dossier));
            let zero_s = zero_s.filter(|_| channel.takes(StepEntry::Clock));
            if let (Ok(signed), Some(zero_s)) = (&mut signed, zero_s) {
                signed.start_s -= zero_s;
                signed.steps.push(format!("time zero at the switch, {:.3} ms of the record", zero_s * 1e3));
            }
            Record { plan: channel, channel: signed }
        })
        .collect();
    (records, fault)
}

/// Instant at which the switch closed, on the record's own clock.
fn switch_instant_s(dossier: &Dossier, switch: &SwitchEntry) -> Result<f64, String> {
    let record = filmgauge_sensors::read(&dossier.root.join(&switch.file), &switch.code, None)
        .map_err(|error| error.to_string())?;
    let options = SwitchOptions {
        level: switch.level,
        crossing: if switch.falling { Crossing::Falling } else { Crossing::Rising },
        rise_s: switch.rise_s,
        ..SwitchOptions::default()
    };
    filmgauge_timing::switch_instant(&record.values, record.sample_rate_hz(), &options)
        .map(|found| record.start_s + found.time_s)
        .map_err(|error| error.to_string())
}

/// The steps that say so.
pub(crate) const TURNED: &str = "sign turned: y right and z down in the record, left and up here";
const TURNED_RATE: &str = "sign turned: nose down positive in the record, nose up here";

/// An acceleration, or the rate of yaw or pitch, with forward, left, up, nose left and nose up positive.
fn signed(mut si: Channel, plan: &ChannelPlan, dossier: &Dossier) -> Result<Channel, String> {
    let (axis, is_rate) = (plan.axis, si.unit == "rad/s");
    if si.unit != "m/s2" && !(is_rate && axis != AxisEntry::X) {
        let unit = &si.unit;
        return Err(format!(
            "its unit {unit} is neither one of acceleration nor, about y or z, of a pitch or yaw rate"
        ));
    }
    let (code, unit) = (code_words(&plan.code), si.unit.clone());
    si.steps.push(format!("read in {unit}{code}"));
    // About the axis to the left, which ISO 8855 counts, the nose goes down; about that to the right, up.
    let is_pitch = is_rate && axis == AxisEntry::Y;
    let points_up = dossier.document.test.axes.upward_sign() >= 0.0;
    let turns = if is_pitch { points_up } else { axis != AxisEntry::X && !points_up };
    if turns && plan.takes(StepEntry::Polarity) {
        for value in &mut si.values {
            *value = -*value;
        }
        si.steps.push(if is_pitch { TURNED_RATE } else { TURNED }.into());
    }
    Ok(si)
}

/// What a channel code says; empty for the header of a column.
fn code_words(code: &str) -> String {
    let Ok(parts) = ChannelCode::parse(code) else { return String::new() };
    let class = match parts.filter_class {
        'A' => "class 1000",
        'B' => "class 600",
        'C' => "class 180",
        'D' => "class 60",
        'P' => "pre-filtered",
        '0' => "not filtered",
        _ => "class not stated",
    };
    format!(
        "; the code says object {}, place {}, dimension {}, direction {}, {class}",
        parts.object, parts.main_location, parts.dimension, parts.direction
    )
}

/// What the film of a side camera cannot be compared with.
const UNSEEN_SIDEWAYS: &str = "a side camera does not see the sideways axis";
const UNSEEN_RATE: &str = "rates are not compared with film";

/// Film against one channel.
pub(crate) fn crosscheck(
    record: &Record<'_>,
    side: Option<&Budgeted<'_>>,
    options: &RunOptions,
) -> CrosscheckResult {
    let mut figures = None;
    let checked = record.channel.as_ref().map_err(Clone::clone).and_then(|channel| {
        let axis = match record.plan.axis {
            _ if channel.unit == "rad/s" => return Err(UNSEEN_RATE.into()),
            AxisEntry::X => SensedAxis::X,
            AxisEntry::Z => SensedAxis::Z,
            AxisEntry::Y => return Err(UNSEEN_SIDEWAYS.into()),
        };
        let camera = side.ok_or("there is no side camera that could be measured")?;
        let body = camera.motion.bodies.iter().find(|body| body.id == record.plan.body);
        let body = body.ok_or_else(|| format!("{} could not be measured on film", record.plan.body))?;
        let angle = body.motion.angle.as_ref();
        let angle = angle.ok_or_else(|| format!("{} has one target only, so no angle", body.id))?;
        let film = film_at_sensor(camera, (body, angle), record.plan, axis);
        figures = super::agreement::figures(camera, (body, angle), record, axis, options);
        filmgauge_crosscheck::crosscheck(&film, channel, axis, &options.crosscheck)
            .map_err(|failure| failure.to_string())
    });
    match checked {
        Ok(check) => CrosscheckResult { figures, ..told(record, check) },
        Err(reason) => untold(record, reason),
    }
}

/// Motion of the sensor's place as the film saw it, with what is doubtful about all of it at once.
pub(crate) fn film_at_sensor(
    camera: &Budgeted<'_>,
    (body, angle): (&BodyState, &Smoothed),
    plan: &ChannelPlan,
    axis: SensedAxis,
) -> FilmAtSensor {
    let frames = 0..body.motion.x.times_s.len();
    let accelerations = |axis: SensedAxis| {
        frames.clone().map(|index| acceleration(body, angle, plan.at, index, axis)).collect()
    };
    let [gain_relative_u, speed_relative_u] = camera.scale_and_speed_u(body);
    FilmAtSensor {
        times_s: body.motion.x.times_s.clone(),
        position_m: positions(body, plan, axis),
        angle_rad: angle.states.iter().map(|state| state[0]).collect(),
        other_acceleration_m_s2: accelerations(axis.other()),
        gain_relative_u,
        time_u_s: camera.motion.clock.zero_u_s,
        speed_relative_u,
        contact_s: camera.motion.contact_s(),
        other: Some(OtherAxis {
            position_m: positions(body, plan, axis.other()),
            own_acceleration_m_s2: accelerations(axis),
        }),
    }
}

/// Unsmoothed place of the sensor along one axis, with its variance, frame by frame.
fn positions(body: &BodyState, plan: &ChannelPlan, axis: SensedAxis) -> Vec<Sample> {
    let along = |motion: PlanePoint| if axis == SensedAxis::X { motion.x_m } else { motion.z_m };
    let position = |pose: &Option<_>| -> Sample {
        let pose: &filmgauge_motion::Pose = pose.as_ref()?;
        let angle_rad = pose.angle_rad?;
        let arm = plan.at.turned(angle_rad);
        let lever = plan.at.turned(angle_rad + std::f64::consts::FRAC_PI_2);
        let (place_m, k) =
            if axis == SensedAxis::X { (pose.x_m + arm.x_m, 0) } else { (pose.z_m + arm.z_m, 1) };
        let turn = along(lever);
        let variance = pose.cov[k][k] + 2.0 * turn * pose.cov[k][2] + turn * turn * pose.cov[2][2];
        Some((place_m, variance))
    };
    body.motion.poses.iter().map(position).collect()
}

/// Inertial acceleration of a body point along one axis.
pub(crate) fn acceleration(
    body: &BodyState,
    angle: &Smoothed,
    at: PlanePoint,
    index: usize,
    axis: SensedAxis,
) -> f64 {
    let [angle_rad, rate, rate_of_rate, _] = angle.states[index];
    let gained = filmgauge_motion::lever_acceleration(at.turned(angle_rad), rate, rate_of_rate);
    match axis {
        SensedAxis::X => body.motion.x.states[index][2] + gained[0],
        SensedAxis::Z => body.motion.z.states[index][2] + gained[1],
    }
}

fn told(record: &Record<'_>, check: Crosscheck) -> CrosscheckResult {
    let figure = |measured: Measured| ValueAndU { value: measured.value, uncertainty: measured.u };
    CrosscheckResult {
        channel: record.plan.code.clone(),
        body: record.plan.body.to_string(),
        gain: check.gain.map(figure),
        offset_m_s2: Some(figure(check.offset_m_s2)),
        lag_s: check.lag_s.map(figure),
        residual_rms_m: Some(check.residual_rms_m),
        agreement: Some(check.agreement),
        verdict: check.verdict,
        suspected: check
            .suspected
            .into_iter()
            .map(|suspect| SuspectedFault {
                fault: suspect.fault.word().to_owned(),
                evidence: suspect.evidence,
                look_at: suspect.fault.look_at().to_owned(),
            })
            .collect(),
        explanations: check
            .explanations
            .into_iter()
            .map(|tried| ExplanationTried {
                fault: tried.fault.map_or("sound", filmgauge_crosscheck::Fault::word).to_owned(),
                bic_above_best: tried.bic_above_best,
                agreement: tried.agreement,
            })
            .collect(),
        ..CrosscheckResult::default()
    }
}

fn untold(record: &Record<'_>, reason: String) -> CrosscheckResult {
    CrosscheckResult {
        channel: record.plan.code.clone(),
        body: record.plan.body.to_string(),
        verdict: "not checked".into(),
        absent: [UNSEEN_RATE, UNSEEN_SIDEWAYS].contains(&reason.as_str()),
        reason: Some(reason),
        ..CrosscheckResult::default()
    }
}
