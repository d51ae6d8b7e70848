//! The instants of the test, as the sheet shows them.

use crate::display::shown;
use filmgauge_results::EventRow;
use serde::Serialize;

/// One row of the table of events.
#[derive(Serialize)]
pub(crate) struct EventView {
    pub(crate) id: String,
    /// Milliseconds from time zero with the half-width of the 95 % interval.
    pub(crate) time: String,
    pub(crate) how: &'static str,
    pub(crate) camera: String,
    pub(crate) frame: u32,
    pub(crate) text: String,
}

/// Events in the order of the results.
pub(super) fn events(rows: &[EventRow]) -> Vec<EventView> {
    let view = |row: &EventRow| EventView {
        id: row.id.clone(),
        time: shown(row.time_s * 1e3, Some(row.u_s * 1e3)).typeset().line("ms"),
        how: if row.how == "hand" { "by hand" } else { "found" },
        camera: row.camera.clone(),
        frame: row.frame,
        text: row.text.clone(),
    };
    rows.iter().map(view).collect()
}
