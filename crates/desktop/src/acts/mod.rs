//! Acts: everything that can be done, by name and by key, in one list that can be searched.

mod edit;
mod film;
mod marks;
mod page;
mod view;
mod window;

pub(crate) use page::{keys_page, list_page};

use crate::command::Command;
use crate::session::Session;
use eframe::egui::{Context, Key, KeyboardShortcut, Modifiers};

/// When a key counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum When {
    /// Whatever has the focus: a key with Ctrl, or a function key, that no control needs.
    Always,
    /// Only while no control has the focus, since controls need the key themselves.
    Free,
}

/// One act.
pub(crate) struct Act {
    /// Its name.
    pub(crate) name: String,
    /// Its key.
    pub(crate) key: Option<KeyboardShortcut>,
    when: When,
    command: Command,
}

impl Act {
    fn new(name: impl Into<String>, command: Command) -> Self {
        Self { name: name.into(), key: None, when: When::Always, command }
    }

    fn key(self, modifiers: Modifiers, key: Key) -> Self {
        Self { key: Some(KeyboardShortcut::new(modifiers, key)), ..self }
    }

    /// A key without which controls could not be used counts only while none has the focus.
    fn free_key(self, modifiers: Modifiers, key: Key) -> Self {
        Self { when: When::Free, ..self.key(modifiers, key) }
    }
}

/// Every act that can be done now.
pub(crate) fn acts(session: Option<&Session>) -> Vec<Act> {
    let mut acts = Vec::new();
    if let Some(session) = session {
        for group in [edit::acts, film::acts, marks::acts, view::acts] {
            acts.extend(group(session));
        }
    }
    acts.extend(window::acts(session));
    acts
}

/// Takes the keys that were pressed and tells what they ask for.
pub(crate) fn pressed(ctx: &Context, session: Option<&Session>) -> Vec<Command> {
    let is_free = ctx.memory(|memory| memory.focused().is_none()) || film_has_focus(ctx);
    let counts = |act: &Act| match act.when {
        When::Free => is_free,
        When::Always => true,
    };
    let mut acts: Vec<Act> =
        acts(session).into_iter().filter(|act| act.key.is_some() && counts(act)).collect();
    // A key with Shift would also be taken by the same one without: the longer one first.
    acts.sort_by_key(|act| act.key.map_or(0, |key| u8::from(!key.modifiers.shift)));
    let mut commands = Vec::new();
    for act in acts {
        if let Some(key) = act.key {
            let n = ctx.input_mut(|input| input.count_and_consume_key(key.modifiers, key.logical_key));
            commands.extend(std::iter::repeat_n(act.command, n));
        }
    }
    commands
}

/// The film takes the focus when it is pressed, but no keys of its own.
fn film_has_focus(ctx: &Context) -> bool {
    let film: Option<eframe::egui::Id> = ctx.data(|data| data.get_temp(film_focus()));
    film.is_some() && ctx.memory(eframe::egui::Memory::focused) == film
}

/// Where the id of the film's control is kept.
pub(crate) fn film_focus() -> eframe::egui::Id {
    eframe::egui::Id::unique("film that was pressed")
}
