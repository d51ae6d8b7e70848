//! Acts on the desk itself: opening, pages, looks.

use super::Act;
use crate::command::{Command, Over};
use crate::session::Session;
use eframe::egui::{Key, Modifiers};

const TEXT_SIZES: [u16; 6] = [75, 100, 125, 150, 175, 200];

pub(super) fn acts(session: Option<&Session>) -> Vec<Act> {
    let page = |over: Over| Command::Over(Some(over));
    let mut acts = vec![
        Act::new("List of acts", page(Over::Acts)).key(Modifiers::COMMAND, Key::P),
        Act::new("Keys", page(Over::Keys)).key(Modifiers::NONE, Key::F1),
        Act::new("Keys, by question mark", page(Over::Keys)).free_key(Modifiers::NONE, Key::Questionmark),
        Act::new("Looks and name", page(Over::Looks)),
        Act::new("Cautions", page(Over::Cautions)),
        Act::new("Open the sample test", Command::OpenSample),
        Act::new("Dark", Command::Dark(Some(true))),
        Act::new("Light", Command::Dark(Some(false))),
        Act::new("Dark or light as the system", Command::Dark(None)),
    ];
    acts.extend(TEXT_SIZES.map(|percent| Act::new(format!("Text {percent} %"), Command::TextSize(percent))));
    if session.is_some() {
        acts.push(Act::new("Day book", page(Over::Daybook)).key(Modifiers::NONE, Key::F4));
        acts.push(Act::new("Close the dossier", Command::Close).key(Modifiers::COMMAND, Key::W));
    }
    acts
}
