//! Channels of one body and axis against one another, and each channel's zero before and after the test.

use super::budget::Budgeted;
use super::channels::Record;
use super::severity::at_centre;
use crate::document::{AxisEntry, StepEntry};
use crate::options::RunOptions;
use filmgauge_crosscheck::{Measured, Pair, PairOptions, pair};
use filmgauge_motion::Smoothed;
use filmgauge_results::{BesideResult, CrosscheckResult, SuspectedFault, ValueAndU, ZeroCheck};
use filmgauge_sensors::{Channel, zero_drift};

/// A rate's zero is off by more than this, rad/s. Common practice, no source.
const RATE_LIMIT_RAD_S: f64 = 0.02;
/// A drift counts beyond this many of its standard uncertainties: it is a by-product of a short stretch.
const DRIFT_COVERAGE: f64 = 3.0;
const DRIFT_LOOK_AT: &str =
    "warming up of sensor and amplifier, a charge amplifier's discharge, a change of the bridge supply";

/// Adds to each check the comparison with every earlier channel of its body and axis, and what its zero does.
pub(crate) fn add(
    checks: &mut [CrosscheckResult],
    records: &[Record<'_>],
    side: Option<&Budgeted<'_>>,
    options: &RunOptions,
) {
    let contact_s = side.map_or(0.0, |camera| camera.motion.contact_s());
    let by_film: Vec<Option<bool>> =
        checks.iter().map(|check| check.gain.map(|_| check.suspected.is_empty())).collect();
    for later in 0..records.len().min(checks.len()) {
        for earlier in 0..later {
            let two = [&records[earlier], &records[later]];
            if let Some(found) = beside(two, side, contact_s, options) {
                let told = blamed(found, two, [by_film[earlier], by_film[later]]);
                checks[later].beside.push(told);
            }
        }
        if let Ok(channel) = &records[later].channel {
            with_zero(&mut checks[later], channel, contact_s, options);
        }
    }
}

/// `None` where both do not sense the same body, axis and quantity.
fn beside(
    [reference, judged]: [&Record<'_>; 2],
    side: Option<&Budgeted<'_>>,
    contact_s: f64,
    options: &RunOptions,
) -> Option<BesideResult> {
    let (one, other) = (reference.channel.as_ref().ok()?, judged.channel.as_ref().ok()?);
    let alike = reference.plan.body == judged.plan.body
        && reference.plan.axis == judged.plan.axis
        && one.unit == other.unit;
    if !alike {
        return None;
    }
    let angle = side
        .and_then(|camera| camera.motion.bodies.iter().find(|body| body.id == judged.plan.body))
        .and_then(|body| body.motion.angle.as_ref());
    let compared = at_one_place([reference, judged], angle).and_then(|[one, other]| {
        let settings = PairOptions {
            crosscheck: options.crosscheck.clone(),
            offset_limit: limit(&one, options),
            ..PairOptions::default()
        };
        pair(&one, &other, contact_s, &settings).map_err(|failure| failure.to_string())
    });
    let unit = one.unit.clone();
    Some(match compared {
        Ok(found) => told(reference, found, unit),
        Err(reason) => BesideResult {
            channel: reference.plan.code.clone(),
            gain: None,
            offset: None,
            unit,
            lag_s: None,
            agreement: None,
            correlation: None,
            verdict: "not compared".into(),
            suspected: Vec::new(),
            reason: Some(reason),
        },
    })
}

/// Both at the c.g. where they sit apart, by the film's pitch.
fn at_one_place(records: [&Record<'_>; 2], angle: Option<&Smoothed>) -> Result<[Channel; 2], String> {
    let [one, other] = records.map(|record| record.plan);
    let read = records.map(|record| record.channel.as_ref().map_err(Clone::clone));
    let [first, second] = read;
    let (first, second) = (first?, second?);
    if one.at == other.at || first.unit == "rad/s" {
        return Ok([first.clone(), second.clone()]);
    }
    if one.axis == AxisEntry::Y {
        return Err(
            "they sit apart, and no camera shows the yaw that moves them differently to a side".into()
        );
    }
    let angle = angle.ok_or("they sit apart, and the film does not show how their body pitches")?;
    if !(one.takes(StepEntry::Transfer) && other.takes(StepEntry::Transfer)) {
        return Err("they sit apart, and the dossier leaves out the move to one place".into());
    }
    Ok([at_centre(first, one, Some(angle)), at_centre(second, other, Some(angle))])
}

fn limit(channel: &Channel, options: &RunOptions) -> f64 {
    if channel.unit == "rad/s" { RATE_LIMIT_RAD_S } else { options.crosscheck.offset_limit_m_s2 }
}

fn told(reference: &Record<'_>, found: Pair, unit: String) -> BesideResult {
    let figure = |measured: Measured| ValueAndU { value: measured.value, uncertainty: measured.u };
    BesideResult {
        channel: reference.plan.code.clone(),
        gain: found.gain.map(figure),
        offset: Some(figure(found.offset)),
        unit,
        lag_s: found.lag_s.map(figure),
        agreement: Some(found.agreement),
        correlation: Some(found.correlation),
        verdict: found.verdict,
        suspected: found
            .differs
            .into_iter()
            .map(|(fault, evidence)| SuspectedFault {
                fault: fault.word().to_owned(),
                evidence,
                look_at: fault.look_at().to_owned(),
            })
            .collect(),
        reason: None,
    }
}

/// What the film says of either, where both differ.
fn blamed(mut found: BesideResult, records: [&Record<'_>; 2], by_film: [Option<bool>; 2]) -> BesideResult {
    let [one, other] = records.map(|record| record.plan.code.as_str());
    let word = match by_film {
        _ if found.suspected.is_empty() => return found,
        [Some(true), Some(false)] => format!("the film agrees with {one} and not with {other}"),
        [Some(false), Some(true)] => format!("the film agrees with {other} and not with {one}"),
        [Some(false), Some(false)] => "the film agrees with neither".to_owned(),
        [Some(true), Some(true)] => "the film agrees with either, within its own doubt".to_owned(),
        _ => "the film does not tell which of both is right".to_owned(),
    };
    found.verdict = format!("{}; {word}", found.verdict);
    found
}

/// The zero's slope before contact, and its place at the end of the record where that goes on long enough.
fn with_zero(check: &mut CrosscheckResult, channel: &Channel, contact_s: f64, options: &RunOptions) {
    let windows = &options.findings;
    let before_s = [contact_s - windows.offset_s, contact_s - windows.run_up_gap_s];
    let last_s = channel.end_s() - windows.offset_s;
    let test_s = options.crosscheck.after_contact_s;
    let after_s = (last_s >= contact_s + test_s).then(|| [last_s, channel.end_s()]);
    let Ok(found) = zero_drift(channel, before_s, after_s) else { return };
    let figure = |[value, uncertainty]: [f64; 2]| ValueAndU { value, uncertainty };
    let line = |[value, u]: [f64; 2]| format!("{value:.3} ± {:.3}", filmgauge_quantities::COVERAGE_95 * u);
    let unit = if channel.unit == "m/s2" { "m/s²" } else { channel.unit.as_str() };
    let moved = found.moved.map(|moved| {
        format!("; over the last {:.0} ms of the record it is {} {unit} off that before contact, which holds where the body rests by then",
            1e3 * windows.offset_s, line(moved))
    });
    let text = format!(
        "zero drifts by {} {unit} a second before contact{}",
        line(found.slope),
        moved.unwrap_or_default()
    );
    check.zero = Some(ZeroCheck {
        slope: figure(found.slope),
        moved: found.moved.map(figure),
        unit: channel.unit.clone(),
        text,
    });
    let [slope, slope_u] = found.slope;
    if slope.abs() * test_s > limit(channel, options) && slope.abs() > DRIFT_COVERAGE * slope_u {
        let by = line([slope * test_s, slope_u * test_s]);
        check.suspected.push(SuspectedFault {
            fault: "drift".into(),
            evidence: format!(
                "its zero slopes before contact; going on it would be {by} {unit} off {:.0} ms after",
                1e3 * test_s
            ),
            look_at: DRIFT_LOOK_AT.into(),
        });
        check.verdict = format!("{}; its zero drifts", check.verdict);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A zero that rises by 20 m/s² a second, and one that stands still, both with a small tremble.
    #[test]
    fn a_sloping_zero_is_named_and_a_steady_one_is_not() {
        let record = |slope: f64| Channel {
            code: "ax".into(),
            unit: "m/s2".into(),
            start_s: -0.1,
            step_s: 1e-4,
            values: (0..5000_i32)
                .map(|i| slope * (f64::from(i) * 1e-4 - 0.1) + 0.2 * f64::from((i * 37) % 11 - 5))
                .collect(),
            file: std::path::PathBuf::new(),
            comments: Vec::new(),
            steps: Vec::new(),
        };
        for (slope, named) in [(20.0, true), (0.0, false)] {
            let mut check = CrosscheckResult { verdict: "agrees".into(), ..CrosscheckResult::default() };
            with_zero(&mut check, &record(slope), 0.0, &RunOptions::default());
            let zero = check.zero.as_ref().unwrap();
            assert!((zero.slope.value - slope).abs() <= 4.0 * zero.slope.uncertainty, "{zero:?}");
            // From 25 ms before contact to 375 ms after it.
            assert!((zero.moved.unwrap().value - slope * 0.401).abs() < 0.2, "{zero:?}");
            assert_eq!(check.suspected.iter().any(|suspect| suspect.fault == "drift"), named, "{check:?}");
            assert_eq!(check.verdict.contains("drifts"), named);
        }
        let mut check = CrosscheckResult::default();
        with_zero(&mut check, &record(0.0), -0.0999, &RunOptions::default());
        assert!(check.zero.is_none(), "no quiet stretch");
    }
}
