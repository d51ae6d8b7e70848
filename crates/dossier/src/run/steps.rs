//! What was done to a channel, in order, and what the dossier leaves out.

use super::channels::Record;
use super::sensor_findings::prepared;
use super::severity::AtCentre;
use crate::options::RunOptions;

/// Steps of a record: as read, then as made ready for figures; steps left out come last.
pub(crate) fn listed(
    record: &Record<'_>,
    centre: Option<&AtCentre<'_>>,
    contact_s: f64,
    options: &RunOptions,
) -> Vec<String> {
    let channel = match &record.channel {
        Ok(channel) => channel,
        Err(reason) => return vec![format!("not read: {reason}")],
    };
    let used = centre.and_then(|centre| centre.used(&record.plan.code));
    let base = used.map_or(channel, |(channel, _)| channel);
    let n_read = channel.steps.len();
    let mut steps = channel.steps.clone();
    match prepared(base, &record.plan.without, contact_s, options) {
        Ok((ready, _)) => {
            steps.extend(ready.steps.iter().skip(n_read).map(|step| format!("for figures: {step}")));
        }
        Err(why) => steps.push(format!("for figures: not made ready, {why}")),
    }
    if let Some((_, Some(other))) = used {
        steps.push(format!("for figures: resampled to the times of {other}, cubic between samples"));
    }
    let left_out: Vec<&str> = record.plan.without.iter().map(|step| step.word()).collect();
    if !left_out.is_empty() {
        steps.push(format!("left out, as the dossier says: {}", left_out.join(", ")));
    }
    steps
}
