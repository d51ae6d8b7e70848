//! Acts on how things are seen: zoom, overlays, curves.

use super::Act;
use crate::command::Command;
use crate::film::OVERLAYS;
use crate::session::Session;
use eframe::egui::{Key, Modifiers};

const ZOOM_STEP: f32 = 1.5;

pub(super) fn acts(session: &Session) -> Vec<Act> {
    let mut acts = vec![
        Act::new("Whole picture", Command::Whole).free_key(Modifiers::NONE, Key::Num0),
        Act::new("Closer", Command::Zoom(ZOOM_STEP)).free_key(Modifiers::NONE, Key::Plus),
        Act::new("Farther", Command::Zoom(1.0 / ZOOM_STEP)).free_key(Modifiers::NONE, Key::Minus),
        Act::new("Picture as stored", Command::Levels(0.0, 0.0)),
        Act::new("Whole time in the curves", Command::WholeTime),
    ];
    let (brightness, contrast) = (session.view.brightness, session.view.contrast);
    for (name, by) in [("Brighter", 0.1), ("Darker", -0.1)] {
        acts.push(Act::new(name, Command::Levels((brightness + by).clamp(-1.0, 1.0), contrast)));
    }
    for (name, by) in [("More contrast", 0.1), ("Less contrast", -0.1)] {
        acts.push(Act::new(name, Command::Levels(brightness, (contrast + by).clamp(-1.0, 1.0))));
    }
    for overlay in &OVERLAYS {
        let verb = if session.view.hidden.contains(overlay.name) { "Show" } else { "Hide" };
        acts.push(Act::new(format!("{verb} {}", overlay.name), Command::Overlay(overlay.name)));
    }
    if session.document().camera.len() > 1 {
        let name = if session.view.in_step { "One camera alone" } else { "Cameras side by side" };
        acts.push(Act::new(name, Command::InStep));
    }
    acts
}
