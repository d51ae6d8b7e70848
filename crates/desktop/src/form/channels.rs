//! Sensor channels that the film is held against.

use super::{Line, State, fields};
use crate::command::Commands;
use crate::edits::{append, clear, list, place, remove, set};
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_dossier::document::{AxisEntry, StepEntry};

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
    steps(ui, session, line, commands);
    if ui.button("Take this channel out").clicked() {
        commands.edit(format!("{act} taken out"), vec![remove("channel", line.index)]);
    }
}

/// Which steps are applied, each with a box to leave it out, and what was done when last measured.
fn steps(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    let channel = &session.document().channel[line.index];
    for step in StepEntry::ALL {
        let mut applied = !channel.without.contains(&step);
        if !ui.checkbox(&mut applied, words(step)).clicked() {
            continue;
        }
        let left_out = StepEntry::ALL
            .into_iter()
            .filter(|other| if *other == step { !applied } else { channel.without.contains(other) });
        let left_out: Vec<_> = left_out.map(|step| step.word().into()).collect();
        let edit = if left_out.is_empty() {
            clear("channel", line.index, "without")
        } else {
            set("channel", line.index, "without", list(left_out))
        };
        let state = if applied { "on" } else { "off" };
        commands.edit(format!("channel {}: {} {state}", channel.code, step.word()), vec![edit]);
    }
    let measured = session.measured.as_ref().and_then(|it| it.results.channels.get(line.index));
    for step in measured.filter(|it| it.code == channel.code).iter().flat_map(|it| &it.steps) {
        ui.label(format!("Step: {step}"));
    }
}

fn words(step: StepEntry) -> &'static str {
    match step {
        StepEntry::Polarity => "Sign turned into forward, left, up",
        StepEntry::Clock => "Time zero at the switch",
        StepEntry::Zero => "Zero before contact taken out",
        StepEntry::Filter => "Class filter",
        StepEntry::Transfer => "Moved to the c.g. by the film's pitch",
    }
}
