//! Further known lengths of each camera: most are held against the scale, some share in it.

use super::survey::named_numbers;
use super::{Line, State, fields};
use crate::command::{Command, Commands};
use crate::edits::{known_length, list, set};
use crate::session::{Pending, Purpose, Session};
use eframe::egui::Ui;
use filmgauge_dossier::document::LengthPurpose;

const PURPOSES: [(LengthPurpose, &str); 2] =
    [(LengthPurpose::Check, "held against the scale"), (LengthPurpose::Scale, "shares in the scale")];

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let cameras = session.document().camera.iter().enumerate();
    let state = |n: usize| match n {
        0 => "none; optional".to_owned(),
        n => format!("{n} beside the reference"),
    };
    cameras
        .map(|(n, camera)| {
            Line::of_camera(session, n, "Known lengths", State::Done(state(camera.length.len())))
        })
        .collect()
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    let camera = &session.document().camera[line.index];
    let all = |lengths: Vec<filmgauge_daybook::Value>| set("camera", line.index, "length", list(lengths));
    for (n, length) in camera.length.iter().enumerate() {
        ui.push_id(n, |ui| {
            ui.label(format!("{}: {} m ± {} m", length.name, length.length_m, length.uncertainty_m));
            let mut changed = length.clone();
            if let Some(purpose) = fields::choice(ui, "It", Some(length.purpose), &PURPOSES) {
                changed.purpose = purpose;
            }
            let offset = fields::number(ui, "In front of the plane, m", Some(length.plane_offset_m));
            changed.plane_offset_m = offset.unwrap_or(changed.plane_offset_m);
            if changed != *length {
                let mut lengths: Vec<_> = camera.length.iter().map(known_length).collect();
                lengths[n] = known_length(&changed);
                commands.edit(format!("known length {}", length.name), vec![all(lengths)]);
            }
            if ui.button(format!("Take {} out", length.name)).clicked() {
                let others = camera.length.iter().enumerate().filter(|(other, _)| *other != n);
                let others = others.map(|(_, length)| known_length(length)).collect();
                commands.edit(format!("known length {} taken out", length.name), vec![all(others)]);
            }
        });
    }
    let label = "New length: name, length and its standard uncertainty, m";
    let Some(text) = fields::text(ui, label, "") else { return };
    match named_numbers(&text, 2) {
        Some((name, numbers)) => {
            commands.push(Command::Pending(Pending { name, numbers }));
            commands.push(Command::Place(Purpose::KnownLength));
        }
        None => {
            commands.push(Command::Say("Write a name and two numbers, such as \"kerb 1.5 0.002\".".into()));
        }
    }
}
