//! Film against channels, as last measured.

use super::{Line, State};
use crate::command::Commands;
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_quantities::COVERAGE_95;

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let Some(measured) = &session.measured else { return Vec::new() };
    let checks = measured.results.crosschecks.iter().enumerate();
    checks
        .map(|(n, check)| {
            let text = check.reason.clone().unwrap_or_else(|| check.verdict.clone());
            let state = if check.needs_person() { State::Person(text) } else { State::Done(text) };
            let title = format!("Crosscheck {}", check.channel);
            Line::new(format!("check {}", check.channel), title, state).with(n)
        })
        .collect()
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, _: &mut Commands) {
    let Some(check) = session.measured.as_ref().and_then(|it| it.results.crosschecks.get(line.index)) else {
        return;
    };
    let rows = [("Gain", check.gain, ""), ("Offset", check.offset_m_s2, " m/s²"), ("Lag", check.lag_s, " s")];
    for (name, value, unit) in rows {
        if let Some(value) = value {
            ui.label(format!("{name} {:.5} ± {:.5}{unit}", value.value, COVERAGE_95 * value.uncertainty));
        }
    }
    if let (Some(rms), Some(agreement)) = (check.residual_rms_m, check.agreement) {
        ui.label(format!(
            "Film less channel: {:.2} mm RMS, {agreement:.2} times what was to be expected",
            rms * 1e3
        ));
    }
    for suspect in &check.suspected {
        ui.label(format!("Suspected: {}. {}", suspect.fault, suspect.evidence));
    }
    if check.suspected.is_empty() && check.reason.is_none() {
        ui.label("Nothing speaks against this channel.");
    }
}
