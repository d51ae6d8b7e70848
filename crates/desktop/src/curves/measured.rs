//! Curves of the measurement: displacement, speed, acceleration, pitch, crush, with sensors laid over them.

use crate::session::Session;
use filmgauge_report::panel_in_units;
use filmgauge_results::Panel;

pub(super) fn panels(session: &Session) -> Vec<Panel> {
    let Some(measured) = &session.measured else { return Vec::new() };
    let panels = measured.results.panels.iter().filter(|panel| !panel.curves.is_empty());
    panels.map(|panel| panel_in_units(panel, session.units())).collect()
}
