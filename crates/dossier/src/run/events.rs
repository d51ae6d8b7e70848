//! The table of events: instants named by hand, and those that the findings give.

use super::budget::Budgeted;
use crate::document::EventEntry;
use filmgauge_results::{EventRow, Finding, FindingSource};

/// All events in order of time; one named beyond the end of its film has no row.
pub(crate) fn event_rows(
    named: &[EventEntry],
    cameras: &[Budgeted<'_>],
    findings: &[Finding],
) -> Vec<EventRow> {
    let mut rows: Vec<EventRow> = findings.iter().filter_map(|finding| found(finding, cameras)).collect();
    rows.extend(named.iter().filter_map(|event| by_hand(event, cameras)));
    // A stable sort: of equal times, what was found comes first.
    rows.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    rows
}

/// An instant that a finding gives.
fn found(finding: &Finding, cameras: &[Budgeted<'_>]) -> Option<EventRow> {
    let id = match finding.name.as_str() {
        "contact_time" => "contact".to_owned(),
        "crush_max_time" => format!("greatest crush, {}", finding.subject),
        "cushion_stroke_max_time" => format!("greatest cushion stroke, {}", finding.subject),
        "common_speed_time" => "common speed".to_owned(),
        "separation_time" => "parting".to_owned(),
        "pitch_up_max_time" => "greatest pitch, nose up".to_owned(),
        "pitch_down_max_time" => "greatest pitch, nose down".to_owned(),
        "occupant_impact_time" if finding.source == FindingSource::Film => "occupant impact".to_owned(),
        _ => return None,
    };
    let (time_s, name) = (finding.value?, finding.evidence.camera.as_ref()?);
    let camera = cameras.iter().find(|camera| camera.inputs.camera.id.as_str() == name)?;
    let away = |frame: &usize| (camera.motion.times_s[*frame] - time_s).abs();
    let frame = (0..camera.motion.times_s.len()).min_by(|a, b| away(a).total_cmp(&away(b)))?;
    Some(EventRow {
        id,
        camera: name.clone(),
        frame: u32::try_from(frame).ok()?,
        time_s,
        u_s: finding.uncertainty?,
        how: "found".into(),
        text: finding.method.clone(),
    })
}

/// An instant that a person saw in a frame.
fn by_hand(event: &EventEntry, cameras: &[Budgeted<'_>]) -> Option<EventRow> {
    let camera = cameras.iter().find(|camera| camera.inputs.camera.id.as_str() == event.camera)?;
    let time_s = *camera.motion.times_s.get(event.frame as usize)?;
    Some(EventRow {
        id: event.id.clone(),
        camera: event.camera.clone(),
        frame: event.frame,
        time_s,
        u_s: camera.motion.clock.frame_u_s(event.frame as usize),
        how: "hand".into(),
        text: event.text.clone().unwrap_or_default(),
    })
}
