//! Acts on targets and marks: finding, placing, nudging, accepting.

use super::Act;
use crate::command::Command;
use crate::session::{Purpose, Session};
use eframe::egui::{Key, Modifiers};

/// Nudges: full and fine, px.
const FULL: f64 = 1.0;
const FINE: f64 = 0.1;

pub(super) fn acts(session: &Session) -> Vec<Act> {
    let mut acts = vec![
        Act::new("Find targets in this frame", Command::Spot).key(Modifiers::COMMAND, Key::F),
        Act::new("Place a target by hand", Command::Place(Purpose::Target)).key(Modifiers::COMMAND, Key::T),
        Act::new("Show both ends of the board", Command::Place(Purpose::Board)),
        Act::new("Show both ends of a straight edge", Command::Place(Purpose::StraightEdge)),
        Act::new("Show where the flash is seen", Command::Place(Purpose::Flash)),
        Act::new("Show the lamp of the timing marks", Command::Place(Purpose::TimingMarks)),
        Act::new("Next target", Command::NextTarget(true)).key(Modifiers::COMMAND, Key::ArrowDown),
        Act::new("Target before", Command::NextTarget(false)).key(Modifiers::COMMAND, Key::ArrowUp),
    ];
    if session.view.target.is_some() {
        acts.push(
            Act::new("Mark the chosen target by hand", Command::Place(Purpose::Mark))
                .key(Modifiers::COMMAND, Key::M),
        );
        acts.push(Act::new("Choose no target", Command::Choose(None)));
    }
    if session.found.is_some() {
        acts.push(Act::new("Take all found targets", Command::AcceptAllFound));
        acts.push(Act::new("Leave found targets out", Command::RejectFound(None)));
    }
    if let Some(placing) = &session.view.placing {
        acts.push(Act::new("Give up placing", Command::GiveUp).free_key(Modifiers::NONE, Key::Escape));
        if placing.point.is_some() {
            acts.push(Act::new("Accept the point", Command::Accept).free_key(Modifiers::NONE, Key::Enter));
            acts.push(
                Act::new("As pointed, or as fitted", Command::Settle).free_key(Modifiers::NONE, Key::S),
            );
            acts.extend(nudges());
        }
    }
    acts
}

fn nudges() -> impl Iterator<Item = Act> {
    let sides = [
        ("left", Key::ArrowLeft, -1.0, 0.0),
        ("right", Key::ArrowRight, 1.0, 0.0),
        ("up", Key::ArrowUp, 0.0, -1.0),
        ("down", Key::ArrowDown, 0.0, 1.0),
    ];
    sides.into_iter().flat_map(|(side, key, x, y)| {
        [(FULL, Modifiers::NONE), (FINE, Modifiers::SHIFT)].map(|(px, modifiers)| {
            let name = format!("Move the point {px} px {side}");
            Act::new(name, Command::Nudge(x * px, y * px)).free_key(modifiers, key)
        })
    })
}
