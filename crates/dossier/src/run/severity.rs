//! Occupant figures from sensors: flail space, theoretical head impact, severity index and means, with their budgets and limits.

use super::budget::Budgeted;
use super::channels::Record;
use super::findings::OCCUPANT_CAUTION;
use super::sensor_findings::prepared;
use crate::document::{AxisEntry, Role};
use crate::options::RunOptions;
use crate::plan::Plan;
use filmgauge_motion::Smoothed;
use filmgauge_occupant::{
    LIMITS_CAUTION, LimitedAxis, LimitedFigure, OccupantFigure, OccupantLimit, SevereAxis, SevereRecord,
    occupant_figures, occupant_limits,
};
use filmgauge_quantities::{PlanePoint, Seconds, Uncertain};
use filmgauge_results::{Contribution, Evidence, Finding, FindingSource};
use filmgauge_sensors::{Channel, Interpolation, resample};

/// The channels of one vehicle at its centre of gravity: m/s², forward, left and up; yaw in rad/s, nose left.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Channels<'a> {
    pub(crate) x: &'a Channel,
    pub(crate) y: Option<&'a Channel>,
    pub(crate) z: Option<&'a Channel>,
    pub(crate) yaw: Option<&'a Channel>,
}

/// The striking body's channels nearest to its c.g., moved there where the film tells how the body pitches.
pub(crate) struct AtCentre {
    x: Channel,
    y: Option<Channel>,
    z: Option<Channel>,
    yaw: Option<Channel>,
}

impl AtCentre {
    pub(crate) fn channels(&self) -> Channels<'_> {
        Channels { x: &self.x, y: self.y.as_ref(), z: self.z.as_ref(), yaw: self.yaw.as_ref() }
    }
}

/// `None` where no channel of the striking body senses forward, an error where that one is unusable.
pub(crate) fn of_striking(
    records: &[Record<'_>],
    plan: &Plan,
    side: Option<&Budgeted<'_>>,
) -> Option<Result<AtCentre, String>> {
    let striking = plan.bodies.iter().find(|body| body.role == Role::Striking)?;
    let nearest = |axis: AxisEntry, unit: &str| {
        records
            .iter()
            .filter(|record| record.plan.body == striking.id && record.plan.axis == axis)
            .filter(|record| record.channel.as_ref().map_or(unit == "m/s2", |channel| channel.unit == unit))
            .min_by(|a, b| {
                let reach = |record: &Record<'_>| record.plan.at.x_m.hypot(record.plan.at.z_m);
                reach(a).total_cmp(&reach(b))
            })
    };
    let angle = side
        .and_then(|camera| camera.motion.with_role(Role::Striking))
        .and_then(|body| body.motion.angle.as_ref());
    let usable = |axis, unit| {
        let record = nearest(axis, unit)?;
        Some(at_centre(record.channel.as_ref().ok()?, (record.plan.at, axis), angle))
    };
    let forward = nearest(AxisEntry::X, "m/s2")?;
    Some(forward.channel.as_ref().map_err(Clone::clone).map(|x| AtCentre {
        x: at_centre(x, (forward.plan.at, AxisEntry::X), angle),
        y: usable(AxisEntry::Y, "m/s2"),
        z: usable(AxisEntry::Z, "m/s2"),
        yaw: usable(AxisEntry::Z, "rad/s"),
    }))
}

/// An acceleration as it would be at the c.g.: the film's pitch rate and its change take the lever's share out, as long as the film
/// shows them. A sideways acceleration and a rate have no share of a pitch.
fn at_centre(channel: &Channel, (at, axis): (PlanePoint, AxisEntry), angle: Option<&Smoothed>) -> Channel {
    let mut moved = channel.clone();
    let along = match axis {
        AxisEntry::X => 0,
        AxisEntry::Z => 1,
        AxisEntry::Y => return moved,
    };
    let at_origin = at.x_m == 0.0 && at.z_m == 0.0;
    let Some(angle) = angle.filter(|_| !at_origin && channel.unit == "m/s2") else { return moved };
    for index in 0..moved.values.len() {
        if let Some((state, _)) = angle.at(channel.time_s(index)) {
            moved.values[index] -= filmgauge_motion::lever_acceleration(at, state[1], state[2])[along];
        }
    }
    moved.steps.push(MOVED.to_owned());
    moved
}

/// The step that says so.
const MOVED: &str = "moved to the c.g. by the film's pitch";

/// All figures of a set of channels as findings. What cannot be made has its reason.
pub(crate) fn findings(
    channels: &Result<Channels<'_>, String>,
    subject: &str,
    contact: Uncertain<Seconds>,
    calibration_u: f64,
    options: &RunOptions,
) -> Vec<Finding> {
    let codes = channels.as_ref().map(codes).unwrap_or_default();
    let moved = channels.as_ref().is_ok_and(|channels| {
        let more = [channels.y, channels.z].into_iter().flatten();
        std::iter::once(channels.x).chain(more).any(|channel| channel.steps.iter().any(|step| step == MOVED))
    });
    let made = channels.clone().and_then(|channels| {
        let record = record(&channels, contact, calibration_u, options)?;
        occupant_figures(&record, &options.occupant).map_err(|failure| failure.to_string())
    });
    let figures = made.unwrap_or_else(|why| {
        ["occupant_impact_velocity", "occupant_impact_time", "ridedown_acceleration"]
            .map(|name| OccupantFigure { name, unit: unit_of(name), value: Err(why.clone()) })
            .to_vec()
    });
    let codes = if moved { format!("{codes}, {MOVED}") } else { codes };
    figures.into_iter().map(|figure| finding(figure, subject, &codes, calibration_u, options)).collect()
}

fn unit_of(name: &str) -> &'static str {
    match name {
        "occupant_impact_velocity" => "m/s",
        "occupant_impact_time" => "s",
        _ => "m/s2",
    }
}

fn codes(channels: &Channels<'_>) -> String {
    let more = [channels.y, channels.z, channels.yaw];
    let all = std::iter::once(channels.x).chain(more.into_iter().flatten());
    all.map(|channel| channel.code.as_str()).collect::<Vec<_>>().join(", ")
}

/// The channels on the forward one's time base, over the stretch that all cover.
fn record(
    channels: &Channels<'_>,
    contact: Uncertain<Seconds>,
    calibration_u: f64,
    options: &RunOptions,
) -> Result<SevereRecord, String> {
    let contact_s = contact.value.as_s();
    let given = [Some(channels.x), channels.y, channels.z, channels.yaw];
    let mut ready = Vec::new();
    for channel in given.into_iter().flatten() {
        ready.push(prepared(channel, contact_s, options)?);
    }
    let from_s = ready.iter().map(|(channel, _)| channel.start_s).fold(f64::MIN, f64::max);
    let to_s = ready.iter().map(|(channel, _)| channel.end_s()).fold(f64::MAX, f64::min);
    let step_s = channels.x.step_s;
    let (start_s, n) = common(channels.x, from_s, to_s)
        .ok_or_else(|| format!("the channels {} do not overlap in time", codes(channels)))?;
    let windows = &options.findings;
    let quiet = contact_s - windows.offset_s..contact_s - windows.run_up_gap_s;
    let mut axes = ready.into_iter().map(|(channel, zero_u)| {
        let even = resample(&channel, start_s, step_s, n, Interpolation::Cubic)
            .map_err(|error| error.to_string())?;
        let noise = (0..n).filter(|&i| quiet.contains(&even.time_s(i))).map(|i| even.values[i]).collect();
        Ok(SevereAxis { noise, values: even.values, zero_u, calibration_u })
    });
    let mut next = |given: bool| -> Result<Option<SevereAxis>, String> {
        if given { axes.next().transpose() } else { Ok(None) }
    };
    let x = next(true)?.ok_or("there is no forward channel")?;
    let (y, z) = (next(channels.y.is_some())?, next(channels.z.is_some())?);
    let yaw = next(channels.yaw.is_some())?;
    Ok(SevereRecord { start_s, step_s, contact_s: (contact_s, contact.u.as_s()), x, y, z, yaw })
}

/// First sample of a channel within a stretch, and how many there are.
fn common(channel: &Channel, from_s: f64, to_s: f64) -> Option<(f64, usize)> {
    // A millionth of a step is rounding of the time base.
    let slack_s = 1e-6 * channel.step_s;
    let within = |index: &usize| {
        let at_s = channel.time_s(*index);
        at_s >= from_s - slack_s && at_s <= to_s + slack_s
    };
    let first = (0..channel.values.len()).find(within)?;
    let n = (first..channel.values.len()).take_while(within).count();
    (n >= 2).then(|| (channel.time_s(first), n))
}

fn finding(
    figure: OccupantFigure,
    subject: &str,
    codes: &str,
    calibration_u: f64,
    options: &RunOptions,
) -> Finding {
    let calibrated = if calibration_u > 0.0 {
        String::new()
    } else {
        "; the sensor's calibration doubt is not stated and not in the ±".to_owned()
    };
    let limits = limits_of(figure.name).map(|limits| format!("; limits {LIMITS_CAUTION}: {limits}"));
    let (value, budget, reason) = match figure.value {
        Ok((value, shares)) => {
            let budget: Vec<Contribution> =
                shares.into_iter().map(|(source, u)| Contribution { source: source.into(), u }).collect();
            (Some(value), budget, None)
        }
        Err(reason) => (None, Vec::new(), Some(reason)),
    };
    let uncertainty = value.map(|_| budget.iter().map(|part| part.u * part.u).sum::<f64>().sqrt());
    Finding {
        name: figure.name.to_owned(),
        subject: subject.to_owned(),
        source: FindingSource::Sensor,
        value,
        unit: figure.unit.to_owned(),
        uncertainty,
        method: format!("{}, from channel {codes}", method(figure.name, options)),
        evidence: Evidence {
            settings: format!(
                "zero offset out, then {:?}; ± by Monte Carlo, {} draws for each source",
                options.findings.channel_filter, options.occupant.n_draws
            ),
            ..Evidence::default()
        },
        budget,
        caution: Some(format!("{OCCUPANT_CAUTION}{calibrated}{}", limits.unwrap_or_default())),
        reason,
        absent: false,
    }
}

fn method(name: &str, options: &RunOptions) -> String {
    let flail = &options.occupant.flail;
    match name {
        name if name.ends_with("_alone") => {
            format!("flail space, each axis by itself, {} m forward, {} m sideways", flail.forward_m, flail.lateral_m)
        }
        name if name.starts_with("head_") => {
            "theoretical head impact in the yawing compartment, EN 1317-1, formulas from memory".to_owned()
        }
        "severity_index" => {
            "acceleration severity index, EN 1317-1 of 2010, formulas from memory, 13 Hz as the corner of one pass".to_owned()
        }
        name if name.starts_with("mean_") => "greatest mean over a gliding window, forward, left and up positive".to_owned(),
        _ => format!("flail space, {} m forward, {} m sideways, one strike", flail.forward_m, flail.lateral_m),
    }
}

/// Limits of a figure in words; `None` where the rule sets have none.
fn limits_of(name: &str) -> Option<String> {
    let sideways = name.contains("sideways");
    let figure = match name {
        name if name.starts_with("occupant_impact_velocity") => LimitedFigure::ImpactVelocity,
        name if name.starts_with("ridedown") => LimitedFigure::Ridedown,
        "head_impact_velocity" => LimitedFigure::HeadVelocity,
        "head_deceleration" => LimitedFigure::HeadDeceleration,
        "severity_index" => LimitedFigure::Severity,
        "mean_50ms" | "mean_50ms_sideways" => LimitedFigure::Mean50Ms,
        _ => return None,
    };
    let axis = if sideways { LimitedAxis::Y } else { LimitedAxis::X };
    let words = |limit: &OccupantLimit| {
        let unit = match limit.figure.unit() {
            "" => String::new(),
            unit => format!(" {unit}"),
        };
        let of = |value: f64| format!("{value:.4}").trim_end_matches('0').trim_end_matches('.').to_owned();
        let preferred = limit.preferred.map(|value| format!("preferred {}, ", of(value))).unwrap_or_default();
        format!(
            "{} ({}) {preferred}at most {}{unit} ({})",
            limit.edition,
            limit.applies_to,
            of(limit.maximum),
            limit.mark
        )
    };
    let known: Vec<String> = occupant_limits()
        .iter()
        .filter(|limit| limit.figure == figure && [axis, LimitedAxis::Any].contains(&limit.axis))
        .map(words)
        .collect();
    (!known.is_empty()).then(|| known.join("; "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_motion::{SmoothOptions, smooth};

    /// A body that turns evenly at q: the sensor's place has -q² r more than the c.g. (formula of a rigid body, computed).
    #[test]
    fn a_lever_on_an_even_turn_is_taken_out() {
        let times_s: Vec<f64> = (0..100).map(|i| f64::from(i) * 1e-3).collect();
        let samples: Vec<_> = times_s.iter().map(|t| Some((2.0 * t, 1e-10))).collect();
        let angle = smooth(&times_s, &samples, &SmoothOptions::default()).unwrap();
        let channel = Channel {
            code: "ax".into(),
            unit: "m/s2".into(),
            start_s: -0.05,
            step_s: 1e-3,
            values: vec![7.0; 101],
            file: std::path::PathBuf::new(),
            comments: Vec::new(),
            steps: Vec::new(),
        };
        let at = PlanePoint::new(-0.5, -0.3);
        for (axis, expected) in [(AxisEntry::X, 7.0 - 2.0), (AxisEntry::Z, 7.0 - 1.2), (AxisEntry::Y, 7.0)] {
            let moved = at_centre(&channel, (at, axis), Some(&angle));
            assert!((moved.values[90] - expected).abs() < 0.05, "{axis:?} {}", moved.values[90]);
            assert!((moved.values[10] - 7.0).abs() < 1e-12, "before the film: {}", moved.values[10]);
        }
        let still = at_centre(&channel, (PlanePoint::new(0.0, 0.0), AxisEntry::X), Some(&angle));
        assert_eq!(still, channel);
    }
}
