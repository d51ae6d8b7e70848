//! Findings from sensors alone, and the crosscheck's figures as findings.

use super::channels::Record;
use super::findings::OCCUPANT_CAUTION;
use crate::document::{AxisEntry, Role};
use crate::options::RunOptions;
use crate::plan::Plan;
use filmgauge_quantities::{Quantity, Uncertain};
use filmgauge_results::{Contribution, CrosscheckResult, Evidence, Finding, FindingSource, ValueAndU};
use filmgauge_sensors::{Channel, StartRule};

/// Deceleration of the striking body from contact on, ready for the occupant figures.
pub(crate) struct Deceleration<'a> {
    record: &'a Record<'a>,
    step_s: f64,
    values_m_s2: Vec<f64>,
    offset_u_m_s2: f64,
    at_contact_m_s2: f64,
}

/// The striking body's forward channel nearest to its c.g.
pub(crate) fn forward_record<'a>(records: &'a [Record<'a>], plan: &Plan) -> Option<&'a Record<'a>> {
    let striking = plan.bodies.iter().find(|body| body.role == Role::Striking)?;
    records
        .iter()
        .filter(|record| record.plan.body == striking.id && record.plan.axis == AxisEntry::X)
        .min_by(|a, b| {
            let reach = |record: &Record<'_>| record.plan.at.x_m.hypot(record.plan.at.z_m);
            reach(a).total_cmp(&reach(b))
        })
}

/// Zero offset taken out over the quiet stretch before contact, then filtered to the class of the options.
pub(crate) fn prepared(
    channel: &Channel,
    contact_s: f64,
    options: &RunOptions,
) -> Result<(Channel, f64), String> {
    let windows = &options.findings;
    let (zeroed, offset) = filmgauge_sensors::remove_offset(
        channel,
        (contact_s - windows.offset_s).max(channel.start_s),
        contact_s - windows.run_up_gap_s,
    )
    .map_err(|error| error.to_string())?;
    let filtered = filmgauge_sensors::cfc(
        &zeroed.values,
        zeroed.sample_rate_hz(),
        windows.channel_filter,
        StartRule::default(),
    )
    .map_err(|error| error.to_string())?;
    let mut done = zeroed;
    done.values = filtered;
    done.steps.push(format!("{:?}, two-pass, zero phase", windows.channel_filter));
    Ok((done, offset.u.si()))
}

impl<'a> Deceleration<'a> {
    pub(crate) fn of(record: &'a Record<'a>, contact_s: f64, options: &RunOptions) -> Result<Self, String> {
        let channel = record.channel.as_ref().map_err(Clone::clone)?;
        let (done, offset_u_m_s2) = prepared(channel, contact_s, options)?;
        let first = (0..done.values.len()).find(|&index| done.time_s(index) >= contact_s);
        let first = first.ok_or("the record ends before contact")?;
        let values_m_s2: Vec<f64> = done.values[first..].iter().map(|value| -value).collect();
        let at_contact_m_s2 = values_m_s2.first().copied().ok_or("the record ends before contact")?;
        Ok(Self { record, step_s: done.step_s, values_m_s2, offset_u_m_s2, at_contact_m_s2 })
    }
}

/// Occupant figures and speed change from the striking body's accelerometer.
pub(crate) fn occupant(
    decelerations: &Result<Deceleration<'_>, String>,
    subject: &str,
    contact: Uncertain<filmgauge_quantities::Seconds>,
    options: &RunOptions,
) -> Vec<Finding> {
    let contact_s = contact.value.as_s();
    let flail = decelerations.as_ref().map_err(Clone::clone).and_then(|from| {
        let found = filmgauge_occupant::flail_from_acceleration(
            contact_s,
            from.step_s,
            &from.values_m_s2,
            None,
            &options.flail,
        );
        found.map(|found| (from, found)).map_err(|failure| failure.to_string())
    });
    // Doubts that the record itself shows: its zero, and where contact lies on it.
    let offset = |u: f64| Contribution { source: "zero offset".into(), u };
    let shift = |u: f64| Contribution { source: "contact time".into(), u };
    let velocity = flail.clone().map(|(from, found)| {
        let flight_s = found.impact_time_s.map_or(0.0, |time_s| time_s - contact_s);
        let value = found.impact_velocity_x_m_s;
        let shifted = from.at_contact_m_s2.abs() * contact.u.as_s();
        (value, vec![offset(from.offset_u_m_s2 * flight_s), shift(shifted)])
    });
    let time = flail.clone().and_then(|(from, found)| {
        let time_s =
            found.impact_time_s.ok_or("the occupant does not reach the interior within the record")?;
        let flight_s = time_s - contact_s;
        let by_offset =
            from.offset_u_m_s2 * flight_s * flight_s / 2.0 / found.impact_velocity_x_m_s.abs().max(1e-9);
        Ok((time_s, vec![offset(by_offset), shift(contact.u.as_s())]))
    });
    let ridedown = flail.and_then(|(from, found)| {
        let value = found.ridedown_x_m_s2.ok_or("the record ends before a full window after the impact")?;
        Ok((value, vec![offset(from.offset_u_m_s2)]))
    });
    let from = Origin {
        subject,
        code: decelerations.as_ref().map_or("", |from| from.record.plan.code.as_str()),
        forward_m: options.flail.forward_m,
    };
    vec![
        finding("occupant_impact_velocity", "m/s", &from, velocity),
        finding("occupant_impact_time", "s", &from, time),
        finding("ridedown_acceleration", "m/s2", &from, ridedown),
    ]
}

/// Whose figures these are, and from what.
struct Origin<'a> {
    subject: &'a str,
    code: &'a str,
    forward_m: f64,
}

fn finding(
    name: &str,
    unit: &str,
    from: &Origin<'_>,
    made: Result<(f64, Vec<Contribution>), String>,
) -> Finding {
    let uncertainty =
        made.as_ref().ok().map(|(_, budget)| budget.iter().map(|part| part.u * part.u).sum::<f64>().sqrt());
    let caution =
        format!("{OCCUPANT_CAUTION}; the sensor's calibration doubt is not in the dossier and not in the ±");
    let (value, budget, reason) = match made {
        Ok((value, budget)) => (Some(value), budget, None),
        Err(reason) => (None, Vec::new(), Some(reason)),
    };
    Finding {
        name: name.to_owned(),
        subject: from.subject.to_owned(),
        source: FindingSource::Sensor,
        value,
        unit: unit.to_owned(),
        uncertainty,
        method: format!("flail space, {} m forward, from channel {}", from.forward_m, from.code),
        evidence: Evidence {
            settings: "zero offset out, then filtered to its class".into(),
            ..Evidence::default()
        },
        budget,
        caution: Some(caution),
        reason,
        absent: false,
    }
}

/// Gain, offset and lag of one crosscheck.
pub(crate) fn crosscheck(check: &CrosscheckResult, camera: Option<&str>) -> Vec<Finding> {
    let figures: [(&str, &str, Option<ValueAndU>); 3] = [
        ("crosscheck_gain", "1", check.gain),
        ("crosscheck_offset", "m/s2", check.offset_m_s2),
        ("crosscheck_lag", "s", check.lag_s),
    ];
    figures
        .into_iter()
        .map(|(name, unit, figure)| Finding {
            name: name.to_owned(),
            subject: check.channel.clone(),
            source: FindingSource::Fused,
            value: figure.map(|figure| figure.value),
            unit: unit.to_owned(),
            uncertainty: figure.map(|figure| figure.uncertainty),
            method: "channel integrated twice and fitted to the film's unsmoothed positions".into(),
            evidence: Evidence {
                camera: camera.map(ToOwned::to_owned),
                frames: None,
                settings: check.verdict.clone(),
            },
            budget: Vec::new(),
            caution: None,
            reason: if figure.is_some() {
                None
            } else {
                Some(check.reason.clone().unwrap_or_else(|| check.verdict.clone()))
            },
            absent: false,
        })
        .collect()
}
