//! Occupant figures from sensors: flail space, theoretical head impact, severity index and means, with their budgets and limits.

use super::channels::Record;
use super::findings::OCCUPANT_CAUTION;
use super::sensor_findings::prepared;
use crate::document::{AxisEntry, Role};
use crate::options::RunOptions;
use crate::plan::Plan;
use filmgauge_occupant::{
    LIMITS_CAUTION, LimitedAxis, LimitedFigure, OccupantFigure, OccupantLimit, SevereAxis, SevereRecord,
    occupant_figures, occupant_limits,
};
use filmgauge_quantities::{Seconds, Uncertain};
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

/// The striking body's channels nearest to its c.g.; `None` where none senses forward, an error where that one is unusable.
pub(crate) fn of_striking<'a>(
    records: &'a [Record<'a>],
    plan: &Plan,
) -> Option<Result<Channels<'a>, String>> {
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
    let usable = |axis, unit| nearest(axis, unit).and_then(|record| record.channel.as_ref().ok());
    let forward = nearest(AxisEntry::X, "m/s2")?;
    Some(forward.channel.as_ref().map_err(Clone::clone).map(|x| Channels {
        x,
        y: usable(AxisEntry::Y, "m/s2"),
        z: usable(AxisEntry::Z, "m/s2"),
        yaw: usable(AxisEntry::Z, "rad/s"),
    }))
}

/// All figures of a set of channels as findings. What cannot be made has its reason.
pub(crate) fn findings(
    channels: &Result<Channels<'_>, String>,
    subject: &str,
    contact: Uncertain<Seconds>,
    calibration_u: f64,
    options: &RunOptions,
) -> Vec<Finding> {
    let codes = channels.as_ref().map(codes).unwrap_or_default();
    let made = channels.clone().and_then(|channels| {
        let record = record(&channels, contact, calibration_u, options)?;
        occupant_figures(&record, &options.occupant).map_err(|failure| failure.to_string())
    });
    let figures = made.unwrap_or_else(|why| {
        ["occupant_impact_velocity", "occupant_impact_time", "ridedown_acceleration"]
            .map(|name| OccupantFigure { name, unit: unit_of(name), value: Err(why.clone()) })
            .to_vec()
    });
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
        let unit = limit.figure.unit();
        let of = |value: f64| format!("{value:.4}").trim_end_matches('0').trim_end_matches('.').to_owned();
        let preferred = limit.preferred.map(|value| format!("preferred {}, ", of(value))).unwrap_or_default();
        format!(
            "{} ({}) {preferred}at most {} {unit} ({})",
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
