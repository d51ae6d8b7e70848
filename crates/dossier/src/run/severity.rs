//! Occupant figures from sensors: flail space, theoretical head impact, severity index and means, with their budgets and limits.

mod at_centre;
mod label;

pub(crate) use at_centre::{AtCentre, Channels, Given, at_centre, of_striking};
pub(crate) use label::{Label, doubt_zero, labelled};

use super::sensor_findings::prepared;
use crate::options::RunOptions;
use at_centre::MOVED;
use filmgauge_occupant::{OccupantFigure, SevereAxis, SevereRecord, occupant_figures};
use filmgauge_quantities::{Seconds, Uncertain};
use filmgauge_results::{Evidence, Finding, FindingSource};
use filmgauge_sensors::{Channel, Interpolation, resample};

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
        std::iter::once(channels.x)
            .chain(more)
            .any(|given| given.channel.steps.iter().any(|step| step == MOVED))
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
    let word = |given: Given<'_>| {
        let left_out: Vec<&str> = given.without.iter().map(|step| step.word()).collect();
        let code = &given.channel.code;
        if left_out.is_empty() { code.clone() } else { format!("{code} without {}", left_out.join(" and ")) }
    };
    all.map(word).collect::<Vec<_>>().join(", ")
}

/// Channels prepared and on the first one's time base over the stretch that all cover, each with the uncertainty of its zero.
pub(crate) fn on_one_base(
    given: &[Given<'_>],
    contact_s: f64,
    options: &RunOptions,
) -> Result<Vec<(Channel, f64)>, String> {
    let mut ready = Vec::new();
    for it in given {
        ready.push(prepared(it.channel, it.without, contact_s, options)?);
    }
    let from_s = ready.iter().map(|(channel, _)| channel.start_s).fold(f64::MIN, f64::max);
    let to_s = ready.iter().map(|(channel, _)| channel.end_s()).fold(f64::MAX, f64::min);
    let first = given.first().ok_or("there is no forward channel")?.channel;
    let (start_s, n) = common(first, from_s, to_s).ok_or_else(|| {
        let codes: Vec<&str> = given.iter().map(|it| it.channel.code.as_str()).collect();
        format!("the channels {} do not overlap in time", codes.join(", "))
    })?;
    let even = |(channel, zero_u): (Channel, f64)| {
        let even = resample(&channel, start_s, first.step_s, n, Interpolation::Cubic);
        Ok((even.map_err(|error| error.to_string())?, zero_u))
    };
    ready.into_iter().map(even).collect()
}

/// The channels on the forward one's time base, over the stretch that all cover.
fn record(
    channels: &Channels<'_>,
    contact: Uncertain<Seconds>,
    calibration_u: f64,
    options: &RunOptions,
) -> Result<SevereRecord, String> {
    let contact_s = contact.value.as_s();
    let given: Vec<Given<'_>> =
        [Some(channels.x), channels.y, channels.z, channels.yaw].into_iter().flatten().collect();
    let ready = on_one_base(&given, contact_s, options)?;
    let (start_s, step_s) = (ready[0].0.start_s, ready[0].0.step_s);
    let windows = &options.findings;
    let quiet = contact_s - windows.offset_s..contact_s - windows.run_up_gap_s;
    let mut axes = ready.into_iter().map(|(even, zero_u)| {
        let quiet = (0..even.values.len()).filter(|&i| quiet.contains(&even.time_s(i)));
        let noise = quiet.map(|i| even.values[i]).collect();
        SevereAxis { noise, values: even.values, zero_u, calibration_u }
    });
    let mut next = |given: bool| if given { axes.next() } else { None };
    let x = next(true).ok_or("there is no forward channel")?;
    let (y, z) = (next(channels.y.is_some()), next(channels.z.is_some()));
    let yaw = next(channels.yaw.is_some());
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
    let label = Label {
        source: FindingSource::Sensor,
        subject,
        from: format!("from channel {codes}"),
        evidence: Evidence {
            settings: format!(
                "zero offset out, then {:?}; ± by Monte Carlo, {} draws for each source",
                options.findings.channel_filter, options.occupant.n_draws
            ),
            ..Evidence::default()
        },
        caution: calibrated,
    };
    labelled(figure, &label, options)
}
