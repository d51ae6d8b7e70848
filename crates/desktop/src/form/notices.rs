//! Notices of the last measurement: partial trouble with its place and what to do.

use super::{Line, State};
use crate::command::Commands;
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_results::Severity;

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let Some(measured) = &session.measured else { return Vec::new() };
    let line = |(n, notice): (usize, &filmgauge_results::Notice)| {
        let state = match notice.severity {
            Severity::Note => State::Done(notice.text.clone()),
            Severity::Warning | Severity::Person => State::Person(notice.text.clone()),
        };
        Line::new(format!("notice {n}"), notice.place.clone(), state).with(n)
    };
    measured.results.notices.iter().enumerate().map(line).collect()
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, _: &mut Commands) {
    let Some(notice) = session.measured.as_ref().and_then(|it| it.results.notices.get(line.index)) else {
        return;
    };
    ui.label(notice.severity.word());
    if !notice.remedy.is_empty() {
        ui.label(&notice.remedy);
    }
}
