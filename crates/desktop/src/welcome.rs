//! The desk without a dossier: how to begin.

use crate::command::{Command, Commands};
use crate::form::fields;
use crate::places::Remembered;
use eframe::egui::{Ui, vec2};
use std::path::PathBuf;

/// Shows how to begin.
pub(crate) fn show(ui: &mut Ui, remembered: &Remembered, commands: &mut Commands) {
    ui.add_space(ui.available_height() * 0.12);
    ui.vertical_centered(|ui| {
        ui.allocate_ui(vec2(620.0_f32.min(ui.available_width()), 0.0), |ui| {
            ui.vertical(|ui| begin(ui, remembered, commands));
        });
    });
}

fn begin(ui: &mut Ui, remembered: &Remembered, commands: &mut Commands) {
    ui.heading("Filmgauge");
    ui.label(
        "Follows painted targets through the films of an impact test, and turns them into figures with a ±.",
    );
    ui.add_space(12.0);
    ui.label("Drop the films of a test here to begin a dossier, or a dossier's folder to open it.");
    // What is typed first is a path.
    if ui.memory(|memory| memory.focused().is_none()) {
        fields::focus_next(ui);
    }
    if let Some(path) = fields::text(ui, "Path of a film or of a dossier", "") {
        commands.push(Command::Dropped(vec![PathBuf::from(path.trim())]));
    }
    if ui.button("Try the sample test").clicked() {
        commands.push(Command::OpenSample);
    }
    if !remembered.recent.is_empty() {
        ui.add_space(12.0);
        ui.label("Opened before");
        for path in &remembered.recent {
            if ui.button(path.display().to_string()).clicked() {
                commands.push(Command::Open(path.clone()));
            }
        }
    }
    ui.add_space(16.0);
    for caution in filmgauge_report::CAUTIONS {
        ui.small(*caution);
    }
}
