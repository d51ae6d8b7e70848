//! Findings as last measured: value with ±, what it rests on, and its error budget.

use super::{Line, State, drawing};
use crate::command::{Command, Commands};
use crate::session::Session;
use eframe::egui::{Grid, Ui};
use filmgauge_report::{budget_svg_file, budget_words, finding_words};

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let Some(measured) = &session.measured else { return Vec::new() };
    let units = session.units();
    let line = |(n, finding): (usize, &filmgauge_results::Finding)| {
        let words = finding_words(finding, units);
        let state = match &words.reason {
            Some(reason) if finding.absent => State::Done(format!("none: {reason}")),
            Some(reason) => State::Person(reason.clone()),
            None => State::Done(words.value),
        };
        let evidence = finding.evidence.camera.clone().zip(finding.evidence.frames.map(|frames| frames[1]));
        let from = match &finding.evidence.camera {
            Some(camera) => format!("{} {camera}", finding.source.word()),
            None => finding.source.word().to_owned(),
        };
        let key = format!("finding {} {} {from}", finding.name, finding.subject);
        let title = format!("{}, {}, {from}", words.title, words.subject);
        Line { evidence, ..Line::new(key, title, state).with(n) }
    };
    measured.results.findings.iter().enumerate().map(line).collect()
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    let Some(finding) = session.measured.as_ref().and_then(|it| it.results.findings.get(line.index)) else {
        return;
    };
    let words = finding_words(finding, session.units());
    for text in [words.also, words.caution].into_iter().flatten() {
        ui.label(text);
    }
    ui.label(format!("Method: {}", finding.method));
    if let Some([first, last]) = finding.evidence.frames {
        let camera = finding.evidence.camera.clone().unwrap_or_default();
        ui.horizontal_wrapped(|ui| {
            ui.label(format!("Rests on camera {camera},"));
            for (name, frame) in [("from frame", first), ("to frame", last)] {
                if ui.button(format!("{name} {frame}")).clicked() {
                    commands.push(Command::Evidence(camera.clone(), frame));
                }
            }
        });
    }
    if !finding.evidence.settings.is_empty() {
        ui.label(&finding.evidence.settings);
    }
    let budget = budget_words(finding, session.units());
    if budget.is_empty() {
        return;
    }
    if let Some(svg) = budget_svg_file(finding, session.units()) {
        let told =
            format!("Error budget of {}, {}, as bars; the figures stand below", words.title, words.subject);
        drawing::show(ui, "budget", &svg, &told);
    }
    ui.label("Where the doubt comes from, one standard uncertainty and its part of the variance:");
    Grid::new("budget").striped(true).show(ui, |ui| {
        for row in budget {
            ui.label(row.source);
            ui.label(row.u);
            ui.label(format!("{:.0} %", 100.0 * row.share));
            ui.end_row();
        }
    });
}
