//! The searchable list of acts, and the page of keys.

use super::{Act, acts};
use crate::command::{Command, Commands};
use crate::session::Session;
use eframe::egui::{Button, Grid, Key, ScrollArea, TextEdit, Ui};

/// Shows the list of acts; Enter does the first that fits what was typed.
pub(crate) fn list_page(ui: &mut Ui, session: Option<&Session>, commands: &mut Commands) {
    let id = ui.make_persistent_id("act sought");
    let mut sought = ui.data(|data| data.get_temp::<String>(id)).unwrap_or_default();
    let name = ui.label("Type a few letters of what you want to do").id;
    let field = ui.add(TextEdit::singleline(&mut sought).desired_width(f32::INFINITY)).labelled_by(name);
    if !ui.data(|data| data.get_temp::<bool>(id).unwrap_or_default()) {
        field.request_focus();
        ui.data_mut(|data| data.insert_temp(id, true));
    }
    let fitting: Vec<Act> = acts(session).into_iter().filter(|act| fits(&act.name, &sought)).collect();
    let enter = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
    let mut done = enter.then(|| fitting.first().map(|act| act.command.clone())).flatten();
    ScrollArea::vertical().max_height(ui.available_height().max(200.0)).auto_shrink(false).show(ui, |ui| {
        for act in &fitting {
            let keys = act.key.map(|key| ui.ctx().format_shortcut(&key)).unwrap_or_default();
            let button = Button::new(act.name.as_str()).shortcut_text(keys).frame(false);
            if ui.add_sized([ui.available_width(), 0.0], button).clicked() {
                done = Some(act.command.clone());
            }
        }
    });
    ui.data_mut(|data| data.insert_temp(id, sought));
    if let Some(command) = done {
        forget(ui);
        commands.push(Command::Over(None));
        commands.push(command);
    }
}

/// Empties the field for the next time.
fn forget(ui: &Ui) {
    let id = ui.make_persistent_id("act sought");
    ui.data_mut(|data| {
        data.remove::<String>(id);
        data.remove::<bool>(id);
    });
}

/// Whether every word that was typed is in the name.
fn fits(name: &str, sought: &str) -> bool {
    let name = name.to_lowercase();
    sought.to_lowercase().split_whitespace().all(|word| name.contains(word))
}

/// Shows every key.
pub(crate) fn keys_page(ui: &mut Ui, session: Option<&Session>) {
    ui.label("Keys without Ctrl work while no field or button has the focus; Escape leaves it.");
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        Grid::new("keys").striped(true).num_columns(2).show(ui, |ui| {
            for act in acts(session) {
                if let Some(key) = act.key {
                    ui.label(ui.ctx().format_shortcut(&key));
                    ui.label(act.name);
                    ui.end_row();
                }
            }
        });
    });
}

#[cfg(test)]
mod tests {
    use super::fits;

    #[test]
    fn words_may_come_in_any_order() {
        assert!(fits("One frame on", "ON one"));
        assert!(!fits("One frame on", "back"));
        assert!(fits("anything", ""));
    }
}
