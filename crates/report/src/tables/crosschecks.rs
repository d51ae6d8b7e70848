//! The table of film against channels.

use super::{Of, Table};
use filmgauge_results::{CrosscheckResult, SuspectedFault};
use std::borrow::Cow;

pub(super) fn crosschecks(rows: &[CrosscheckResult]) -> Table<'_> {
    let of = Of::new(rows)
        .text("channel", "channel code", |row| &row.channel)
        .text("body", "body that carries the sensor", |row| &row.body)
        .maybe("gain", "1", "the channel's reading over the film's", |row| row.gain.map(|pair| pair.value))
        .maybe("u_gain", "1", "one standard uncertainty of gain", |row| row.gain.map(|pair| pair.uncertainty))
        .maybe("offset_m_s2", "m/s2", "constant added by the channel", |row| Some(row.offset_m_s2?.value))
        .maybe("u_offset_m_s2", "m/s2", "one standard uncertainty of offset_m_s2", |row| {
            Some(row.offset_m_s2?.uncertainty)
        })
        .maybe("lag_s", "s", "channel later than film", |row| Some(row.lag_s?.value))
        .maybe("u_lag_s", "s", "one standard uncertainty of lag_s", |row| Some(row.lag_s?.uncertainty))
        .maybe("residual_rms_m", "m", "film less fitted channel, in displacement", |row| row.residual_rms_m)
        .maybe("agreement", "1", "residual over its expected spread", |row| row.agreement)
        .text("verdict", "in words", |row| &row.verdict)
        .made_text("suspected", "faults, likeliest first", |row| joined(row, |fault| &fault.fault))
        .made_text("evidence", "the numbers behind them", |row| joined(row, |fault| &fault.evidence))
        .made_text("look_at", "what to look at on the rig", |row| joined(row, |fault| &fault.look_at));
    agreement(of)
        .made_text("beside", "against other channels of the same place and axis", |row| {
            let told = row.beside.iter().map(|other| format!("{}: {}", other.channel, other.verdict));
            (!row.beside.is_empty()).then(|| Cow::Owned(told.collect::<Vec<_>>().join("; ")))
        })
        .maybe_text("zero", "what quiet stretches say of its zero", |row| {
            Some(row.zero.as_ref()?.text.as_str())
        })
        .made_text("steps", "steps applied to the channel, in order, and those left out", |row| {
            (!row.steps.is_empty()).then(|| Cow::Owned(row.steps.join("; ")))
        })
        .maybe_text("reason", "why there are no numbers", |row| row.reason.as_deref())
        .flag("absent", "true where the film cannot see what the channel senses", |row| row.absent)
        .table("crosscheck", "Film against channels")
}

/// Figures of agreement between the speed change by film and by the channel.
fn agreement(of: Of<'_, CrosscheckResult>) -> Of<'_, CrosscheckResult> {
    of.maybe("rating", "1", "overall rating, 0 to 1", |row| Some(row.figures.as_ref()?.rating))
        .maybe_text("grade", "its word", |row| Some(row.figures.as_ref()?.grade.as_str()))
        .maybe("corridor", "1", "part of that rating", |row| Some(row.figures.as_ref()?.rating_parts[0]))
        .maybe("phase", "1", "part of that rating", |row| Some(row.figures.as_ref()?.rating_parts[1]))
        .maybe("magnitude", "1", "part of that rating", |row| Some(row.figures.as_ref()?.rating_parts[2]))
        .maybe("slope", "1", "part of that rating", |row| Some(row.figures.as_ref()?.rating_parts[3]))
        .maybe("magnitude_error", "1", "of Sprague and Geers", |row| {
            Some(row.figures.as_ref()?.sprague_geers[0])
        })
        .maybe("phase_error", "1", "of Sprague and Geers", |row| Some(row.figures.as_ref()?.sprague_geers[1]))
        .maybe("combined_error", "1", "of Sprague and Geers", |row| {
            Some(row.figures.as_ref()?.sprague_geers[2])
        })
        .maybe("residual_mean", "1", "over the reference's peak", |row| {
            Some(row.figures.as_ref()?.residuals[0])
        })
        .maybe("residual_sd", "1", "over the reference's peak", |row| {
            Some(row.figures.as_ref()?.residuals[1])
        })
        .maybe("normalised_error", "1", "of the whole speed change", |row| {
            row.figures.as_ref()?.normalised_error
        })
}

fn joined(row: &CrosscheckResult, part: fn(&SuspectedFault) -> &str) -> Option<Cow<'_, str>> {
    match row.suspected.as_slice() {
        [] => None,
        [one] => Some(Cow::Borrowed(part(one))),
        many => Some(Cow::Owned(many.iter().map(part).collect::<Vec<_>>().join("; "))),
    }
}
