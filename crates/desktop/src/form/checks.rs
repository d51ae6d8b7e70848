//! Film against channels, as last measured.

use super::{Line, State};
use crate::command::Commands;
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_quantities::COVERAGE_95;
use filmgauge_results::CrosscheckResult;

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

/// Every explanation that was tried, likeliest first.
fn tried(ui: &mut Ui, check: &CrosscheckResult) {
    if check.explanations.is_empty() {
        return;
    }
    ui.collapsing("Explanations tried", |ui| {
        for tried in &check.explanations {
            ui.label(format!(
                "{}: criterion {:.1} above the best, left over {:.2} times what was to be expected",
                tried.fault, tried.bic_above_best, tried.agreement
            ));
        }
    });
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
    if let Some(figures) = &check.figures {
        ui.label(filmgauge_report::agreement_words(figures));
    }
    for beside in &check.beside {
        ui.label(filmgauge_report::beside_words(beside));
    }
    if let Some(zero) = &check.zero {
        ui.label(zero.text.as_str());
    }
    for suspect in &check.suspected {
        ui.label(format!("Suspected: {}. {}", suspect.fault, suspect.evidence));
        ui.label(format!("Look at {}.", suspect.look_at));
    }
    if check.suspected.is_empty() && check.reason.is_none() {
        ui.label("Nothing speaks against this channel.");
    }
    tried(ui, check);
}
