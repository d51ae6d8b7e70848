//! Channels made ready for figures, and the crosscheck's figures as findings.

use crate::document::StepEntry;
use crate::options::RunOptions;
use filmgauge_results::{CrosscheckResult, Evidence, Finding, FindingSource, ValueAndU};
use filmgauge_sensors::{Channel, StartRule};

/// Zero offset taken out over the quiet stretch before contact, then filtered to the class of the options, as far as the dossier does
/// not leave that out; with the standard uncertainty of that zero, in the channel's unit.
pub(crate) fn prepared(
    channel: &Channel,
    without: &[StepEntry],
    contact_s: f64,
    options: &RunOptions,
) -> Result<(Channel, f64), String> {
    let windows = &options.findings;
    let takes = |step: StepEntry| !without.contains(&step);
    let quiet_s = [(contact_s - windows.offset_s).max(channel.start_s), contact_s - windows.run_up_gap_s];
    let (mut done, zero_u) = if takes(StepEntry::Zero) {
        let (zeroed, [_, zero_u]) = filmgauge_sensors::remove_zero(channel, quiet_s[0], quiet_s[1])
            .map_err(|error| error.to_string())?;
        (zeroed, zero_u)
    } else {
        (channel.clone(), 0.0)
    };
    if takes(StepEntry::Filter) {
        let (rate_hz, class) = (done.sample_rate_hz(), windows.channel_filter);
        done.values = filmgauge_sensors::cfc(&done.values, rate_hz, class, StartRule::default())
            .map_err(|error| error.to_string())?;
        done.steps.push(format!("{class:?}, two-pass, zero phase"));
    }
    Ok((done, zero_u))
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
            absent: check.absent,
        })
        .collect()
}
