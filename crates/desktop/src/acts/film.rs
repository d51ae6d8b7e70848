//! Acts on the film: stepping, playing, cameras.

use super::Act;
use crate::command::Command;
use crate::session::Session;
use eframe::egui::{Key, Modifiers};

pub(super) fn acts(session: &Session) -> Vec<Act> {
    // While a point is in hand, arrows move it and not the film.
    let is_free = session.view.placing.as_ref().is_none_or(|placing| placing.point.is_none());
    let step = |name: &str, n: i64, modifiers: Modifiers, key: Key| {
        let act = Act::new(name, Command::Step(n));
        if is_free { act.free_key(modifiers, key) } else { act }
    };
    let mut acts = vec![
        step("One frame on", 1, Modifiers::NONE, Key::ArrowRight),
        step("One frame back", -1, Modifiers::NONE, Key::ArrowLeft),
        step("Ten frames on", 10, Modifiers::SHIFT, Key::ArrowRight),
        step("Ten frames back", -10, Modifiers::SHIFT, Key::ArrowLeft),
        Act::new("First frame", Command::First).free_key(Modifiers::NONE, Key::Home),
        Act::new("Last frame", Command::Last).free_key(Modifiers::NONE, Key::End),
        Act::new("Play or stop", Command::Play(false)).free_key(Modifiers::NONE, Key::Space),
        Act::new("Play back or stop", Command::Play(true)).free_key(Modifiers::SHIFT, Key::Space),
        Act::new("Next camera", Command::NextCamera).key(Modifiers::COMMAND, Key::K),
    ];
    for speed in [5.0, 50.0, 500.0] {
        acts.push(Act::new(format!("Play {speed} frames a second"), Command::PlaySpeed(speed)));
    }
    for event in &session.document().event {
        let command = Command::Evidence(event.camera.clone(), event.frame);
        acts.push(Act::new(format!("Go to event {}", event.id), command));
    }
    acts
}
