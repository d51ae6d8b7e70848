//! Crush lines: a target in the crush zone against its body.

use super::{Line, State, fields};
use crate::command::Commands;
use crate::edits::{append, remove, set};
use crate::session::Session;
use eframe::egui::Ui;

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let crush = &session.document().crush;
    let whole = match crush.len() {
        0 => State::Done("none; optional".into()),
        1 => State::Done("1 line".into()),
        n => State::Done(format!("{n} lines")),
    };
    let mut lines = vec![Line::new("crush", "Crush lines", whole)];
    lines.extend(crush.iter().enumerate().map(|(n, entry)| {
        let known = session.document().target.iter().any(|target| target.id == entry.target);
        let text = format!("{} against {}", entry.target, entry.body);
        let state = if known { State::Done(text) } else { State::Person(format!("{text}: no such target")) };
        Line::new(format!("crush {}", entry.id), format!("Crush {}", entry.id), state).with(n)
    }));
    lines
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    let document = session.document();
    if line.key == "crush" {
        return add(ui, session, commands);
    }
    let entry = &document.crush[line.index];
    let targets: Vec<&str> = document.target.iter().map(|target| target.id.as_str()).collect();
    let bodies: Vec<&str> = document.body.iter().map(|body| body.id.as_str()).collect();
    let act = format!("crush line {}", entry.id);
    if let Some(target) = fields::name(ui, "Target in the crush zone", Some(&entry.target), &targets) {
        commands.edit(act.clone(), vec![set("crush", line.index, "target", target)]);
    }
    if let Some(body) = fields::name(ui, "Against body", Some(&entry.body), &bodies) {
        commands.edit(act, vec![set("crush", line.index, "body", body)]);
    }
    if ui.button("Take this line out").clicked() {
        commands.edit(format!("crush line {} taken out", entry.id), vec![remove("crush", line.index)]);
    }
}

/// The chosen target becomes one that measures crush.
fn add(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    ui.label("Choose a target in the crush zone; how far it moves back against its body is the crush.");
    let Some((_, target)) = session.chosen() else { return };
    if session.document().crush.iter().any(|entry| entry.target == target.id) {
        ui.label(format!("{} measures crush already.", target.id));
    } else if let Some(id) = fields::text(ui, &format!("Name of the line measured by {}", target.id), "") {
        let values = vec![
            ("id", id.trim().into()),
            ("target", target.id.as_str().into()),
            ("body", target.body.as_str().into()),
        ];
        commands.edit(format!("crush line {}", id.trim()), vec![append("crush", values)]);
    }
}
