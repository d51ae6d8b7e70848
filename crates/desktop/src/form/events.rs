//! Events: instants named by hand, and those that measuring found, each ± at 95 %.

use super::{Line, State, fields};
use crate::command::{Command, Commands};
use crate::edits::{append, remove, set};
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_quantities::COVERAGE_95;

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let events = &session.document().event;
    let names: Vec<&str> = events.iter().map(|event| event.id.as_str()).collect();
    let text = if names.is_empty() { "none; optional".into() } else { names.join(", ") };
    vec![Line::new("events", "Events", State::Done(text))]
}

/// Instants that measuring found.
fn found(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    let Some(measured) = &session.measured else { return };
    for event in measured.results.events.iter().filter(|event| event.how == "found") {
        let words = format!(
            "{}: camera {}, frame {}, {:.2} ms ± {:.2} ms, {}",
            event.id,
            event.camera,
            event.frame,
            1e3 * event.time_s,
            1e3 * COVERAGE_95 * event.u_s,
            event.text
        );
        if ui.button(words).clicked() {
            commands.push(Command::Evidence(event.camera.clone(), event.frame));
        }
    }
}

pub(super) fn open(ui: &mut Ui, session: &Session, _: &Line, commands: &mut Commands) {
    for (index, event) in session.document().event.iter().enumerate() {
        ui.push_id(index, |ui| {
            ui.horizontal_wrapped(|ui| {
                if ui
                    .button(format!("{}: camera {}, frame {}", event.id, event.camera, event.frame))
                    .clicked()
                {
                    commands.push(Command::Evidence(event.camera.clone(), event.frame));
                }
                if ui.button(format!("Take {} out", event.id)).clicked() {
                    commands.edit(format!("event {} taken out", event.id), vec![remove("event", index)]);
                }
            });
            if let Some(text) = fields::text(ui, "What is seen", event.text.as_deref().unwrap_or_default()) {
                commands.edit(format!("event {}", event.id), vec![set("event", index, "text", text)]);
            }
        });
    }
    found(ui, session, commands);
    let frame = session.frame();
    if let Some(id) = fields::text(ui, &format!("Name frame {frame}"), "") {
        let id = id.trim().to_owned();
        if session.document().event.iter().any(|event| event.id == id) {
            commands.push(Command::Say(format!("There is an event {id} already.")));
            return;
        }
        let values = vec![
            ("id", id.as_str().into()),
            ("camera", session.camera_id().into()),
            ("frame", i64::from(frame).into()),
        ];
        commands.edit(format!("event {id}"), vec![append("event", values)]);
    }
}
