//! Sensor channels that the film is held against.

use super::{Line, State, fields};
use crate::command::Commands;
use crate::edits::{append, place, remove, set};
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_dossier::document::AxisEntry;

const AXES: [(AxisEntry, &str); 3] = [(AxisEntry::X, "x"), (AxisEntry::Y, "y"), (AxisEntry::Z, "z")];

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let channels = &session.document().channel;
    let text = match channels.len() {
        0 => "none; optional".into(),
        1 => "1 channel".into(),
        n => format!("{n} channels"),
    };
    let mut lines = vec![Line::new("channels", "Channels", State::Done(text))];
    lines.extend(channels.iter().enumerate().map(|(n, channel)| {
        let state = if channel.code.is_empty() {
            State::Empty("give its code, or its column's header".into())
        } else {
            State::Done(format!("on {}, {}", channel.body, channel.file))
        };
        Line::new(format!("channel {n}"), format!("Channel {}", channel.code), state).with(n)
    }));
    lines
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    let document = session.document();
    let bodies: Vec<&str> = document.body.iter().map(|body| body.id.as_str()).collect();
    if line.key == "channels" {
        let Some(body) = bodies.first() else {
            ui.label("Add a body first: every sensor is on one.");
            return;
        };
        if let Some(file) = fields::text(ui, "Add a channel file", "") {
            let values = vec![("file", file.trim().into()), ("code", "".into()), ("body", (*body).into())];
            commands.edit(format!("channel of {}", file.trim()), vec![append("channel", values)]);
        }
        ui.label("The .mme header of an exchange folder, or a CSV file, from the dossier's folder.");
        return;
    }
    let channel = &document.channel[line.index];
    let act = format!("channel {}", channel.code);
    let unit = channel.unit.as_deref().unwrap_or_default();
    for (key, label, value) in [
        ("file", "File", channel.file.as_str()),
        ("code", "Code, or column's header", channel.code.as_str()),
        ("unit", "Unit, where the file does not say", unit),
    ] {
        if let Some(text) = fields::text(ui, label, value) {
            commands.edit(act.clone(), vec![set("channel", line.index, key, text.trim())]);
        }
    }
    if let Some(axis) = fields::choice(ui, "Axis", channel.axis, &AXES) {
        let word = AXES.iter().find(|(known, _)| *known == axis).map_or("x", |it| it.1);
        commands.edit(act.clone(), vec![set("channel", line.index, "axis", word)]);
    }
    if let Some(body) = fields::name(ui, "On body", Some(&channel.body), &bodies) {
        commands.edit(act.clone(), vec![set("channel", line.index, "body", body)]);
    }
    let [forward, up] = channel.at_m;
    if let Some(forward) = fields::number(ui, "Forward of the c.g., m", Some(forward)) {
        commands.edit(act.clone(), vec![set("channel", line.index, "at_m", place([forward, up]))]);
    }
    if let Some(up) = fields::number(ui, "Above the c.g., m", Some(up)) {
        commands.edit(act.clone(), vec![set("channel", line.index, "at_m", place([forward, up]))]);
    }
    if ui.button("Take this channel out").clicked() {
        commands.edit(format!("{act} taken out"), vec![remove("channel", line.index)]);
    }
}
