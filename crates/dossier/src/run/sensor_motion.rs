//! What sensors alone say of the motion: the speed change with gravity and turning axes taken out, and resultants.

use super::budget::Budgeted;
use super::channels::Record;
use super::severity::{Channels, Given, on_one_base};
use crate::document::AxisEntry;
use crate::options::RunOptions;
use filmgauge_quantities::{Seconds, Uncertain};
use filmgauge_results::{Contribution, Evidence, Finding, FindingSource};
use filmgauge_sensors::{Channel, Interpolation, PitchingAxes, integrate, level, resultant};

/// Speed change along the path from contact on, by sensors alone; `None` without a sensor of the pitch rate.
pub(crate) fn speed_change(
    channels: &Channels<'_>,
    subject: &str,
    contact: Uncertain<Seconds>,
    calibration_u: f64,
    options: &RunOptions,
) -> Option<Finding> {
    let pitch = channels.pitch?;
    let given: Vec<Given<'_>> = [Some(channels.x), Some(pitch), channels.z].into_iter().flatten().collect();
    let codes: Vec<&str> = given.iter().map(|it| it.channel.code.as_str()).collect();
    let made = on_one_base(&given, contact.value.as_s(), options).and_then(|ready| {
        Change { ready, contact, test_s: options.crosscheck.after_contact_s }.made(calibration_u, options)
    });
    let (value, budget, reason) = match made {
        Ok((value, budget)) => (Some(value), budget, None),
        Err(reason) => (None, Vec::new(), Some(reason)),
    };
    Some(Finding {
        name: "speed_change".into(),
        subject: subject.to_owned(),
        source: FindingSource::Sensor,
        value,
        unit: "m/s".into(),
        uncertainty: value.map(|_| budget.iter().map(|part| part.u * part.u).sum::<f64>().sqrt()),
        method: format!(
            "integral along the path over {:.0} ms from contact, or to the record's end, from {}; gravity and the turn of the axes \
             taken out by the pitch rate, level at contact",
            1e3 * options.crosscheck.after_contact_s,
            codes.join(", ")
        ),
        evidence: Evidence {
            settings: format!(
                "zero offsets out, then {:?}; ± by moving each source by its own doubt",
                options.findings.channel_filter
            ),
            ..Evidence::default()
        },
        budget,
        caution: (calibration_u <= 0.0)
            .then(|| "the sensors' calibration doubt is not stated and not in the ±".into()),
        reason,
        absent: false,
    })
}

/// Forward, pitch rate and perhaps upright on one time base, with the doubts of their zeros.
struct Change {
    ready: Vec<(Channel, f64)>,
    contact: Uncertain<Seconds>,
    test_s: f64,
}

impl Change {
    fn made(&self, calibration_u: f64, options: &RunOptions) -> Result<(f64, Vec<Contribution>), String> {
        let (contact_s, contact_u_s) = (self.contact.value.as_s(), self.contact.u.as_s());
        let none = vec![0.0; self.ready.len()];
        let value = self.value(&none, contact_s)?;
        let mut zeros = 0.0_f64;
        for moved in 0..self.ready.len() {
            let mut by = none.clone();
            by[moved] = self.ready[moved].1;
            zeros = zeros.hypot(self.value(&by, contact_s)? - value);
        }
        // The zero is the mean over the quiet stretch: its doubt tells the noise that the integral gathers.
        let (quiet_s, zero_u) = (options.findings.offset_s - options.findings.run_up_gap_s, self.ready[0].1);
        let line = |source: &str, u: f64| Contribution { source: source.into(), u };
        let mut budget = vec![
            line("zero offset", zeros),
            line("sensor noise", zero_u * (quiet_s * self.test_s).sqrt()),
            line("contact time", (self.value(&none, contact_s + contact_u_s)? - value).abs()),
        ];
        if calibration_u > 0.0 {
            budget.push(line("sensor calibration", calibration_u * value.abs()));
        }
        Ok((value, budget))
    }

    /// Gain of speed with each channel's zero moved.
    fn value(&self, moved: &[f64], contact_s: f64) -> Result<f64, String> {
        let lifted: Vec<Channel> = self
            .ready
            .iter()
            .zip(moved)
            .map(|((channel, _), by)| {
                let mut lifted = channel.clone();
                lifted.values.iter_mut().for_each(|value| *value += by);
                lifted
            })
            .collect();
        let axes = PitchingAxes {
            forward: &lifted[0],
            upright: lifted.get(2),
            pitch_rate: &lifted[1],
            rest_rad: 0.0,
        };
        let along = level(&axes, contact_s).map_err(|error| error.to_string())?;
        let speed = integrate(&along, 0.0).map_err(|error| error.to_string())?;
        let at = |time_s: f64| speed.at(time_s, Interpolation::Linear);
        let end_s = (contact_s + self.test_s).min(speed.end_s());
        let (from, to) = at(contact_s).zip(at(end_s)).ok_or("the records do not hold contact")?;
        Ok(to - from)
    }
}

/// The greatest resultant of every place with three accelerations.
pub(crate) fn resultants(
    records: &[Record<'_>],
    side: Option<&Budgeted<'_>>,
    options: &RunOptions,
) -> Vec<Finding> {
    let contact_s = side.map_or(0.0, |camera| camera.motion.contact_s());
    let of = |like: &Record<'_>, axis: AxisEntry| {
        let found = records.iter().find(|record| {
            let accelerates = record.channel.as_ref().is_ok_and(|channel| channel.unit == "m/s2");
            accelerates
                && record.plan.axis == axis
                && record.plan.body == like.plan.body
                && record.plan.at == like.plan.at
        })?;
        Some(Given { channel: found.channel.as_ref().ok()?, without: &found.plan.without })
    };
    let mut places: Vec<&Record<'_>> = Vec::new();
    for record in records {
        let known =
            places.iter().any(|place| place.plan.body == record.plan.body && place.plan.at == record.plan.at);
        if !known {
            places.push(record);
        }
    }
    places
        .into_iter()
        .filter_map(|place| {
            let axes = [AxisEntry::X, AxisEntry::Y, AxisEntry::Z].map(|axis| of(place, axis));
            let [Some(x), Some(y), Some(z)] = axes else { return None };
            Some(greatest_resultant(place, [x, y, z], contact_s, options))
        })
        .collect()
}

fn greatest_resultant(
    place: &Record<'_>,
    axes: [Given<'_>; 3],
    contact_s: f64,
    options: &RunOptions,
) -> Finding {
    let codes = axes.map(|axis| axis.channel.code.as_str()).join(", ");
    let made = on_one_base(&axes, contact_s, options).and_then(|ready| greatest(&ready, contact_s, options));
    let (value, budget, reason) = match made {
        Ok((value, budget)) => (Some(value), budget, None),
        Err(reason) => (None, Vec::new(), Some(reason)),
    };
    Finding {
        name: "resultant_max".into(),
        subject: place.plan.body.to_string(),
        source: FindingSource::Sensor,
        value,
        unit: "m/s2".into(),
        uncertainty: value.map(|_| budget.iter().map(|part| part.u * part.u).sum::<f64>().sqrt()),
        method: format!(
            "greatest resultant of {codes} after contact, {} m forward and {} m above the c.g.",
            place.plan.at.x_m, place.plan.at.z_m
        ),
        evidence: Evidence {
            settings: format!(
                "zero offsets out, each axis {:?} before the resultant",
                options.findings.channel_filter
            ),
            ..Evidence::default()
        },
        budget,
        caution: Some("the sensors' calibration doubt is not stated and not in the ±".into()),
        reason,
        absent: false,
    }
}

/// The greatest value after contact; zeros and noise of each axis count by its share of the direction.
fn greatest(
    ready: &[(Channel, f64)],
    contact_s: f64,
    options: &RunOptions,
) -> Result<(f64, Vec<Contribution>), String> {
    let axes: Vec<&Channel> = ready.iter().map(|(channel, _)| channel).collect();
    let joined = resultant(&axes).map_err(|error| error.to_string())?;
    let after = (0..joined.values.len()).filter(|&index| joined.time_s(index) >= contact_s);
    let peak = after.max_by(|&a, &b| joined.values[a].total_cmp(&joined.values[b]));
    let peak = peak.ok_or("the records end before contact")?;
    let value = joined.values[peak];
    let share = |axis: &Channel| if value > 0.0 { axis.values[peak] / value } else { 1.0 };
    let windows = &options.findings;
    let quiet_s = contact_s - windows.offset_s..contact_s - windows.run_up_gap_s;
    let (mut zeros, mut noise) = (0.0_f64, 0.0_f64);
    for (axis, zero_u) in ready {
        let quiet: Vec<f64> = (0..axis.values.len())
            .filter(|&index| quiet_s.contains(&axis.time_s(index)))
            .map(|index| axis.values[index])
            .collect();
        #[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
        let variance = quiet.iter().map(|value| value * value).sum::<f64>() / quiet.len().max(1) as f64;
        zeros = zeros.hypot(share(axis) * zero_u);
        noise = noise.hypot(share(axis) * variance.sqrt());
    }
    let line = |source: &str, u: f64| Contribution { source: source.into(), u };
    Ok((value, vec![line("zero offset", zeros), line("sensor noise", noise)]))
}
