//! Fields of the form: a text that is being typed is a draft until Enter or leaving the field; Escape drops it.

use eframe::egui::{ComboBox, Id, Key, Response, RichText, TextEdit, Ui};

/// Width of a field for a number, points.
const NUMBER_WIDTH: f32 = 96.0;
const SHORT_WIDTH: f32 = 58.0;

/// A line of text; what was entered, if it differs from `value`.
pub(crate) fn text(ui: &mut Ui, label: &str, value: &str) -> Option<String> {
    let width = ui.available_width();
    ui.horizontal_wrapped(|ui| {
        let name = ui.label(label).id;
        let room = (width - ui.min_rect().width() - 16.0).max(140.0);
        draft(ui, (label, name), value, room).0
    })
    .inner
}

/// A number; what was entered, if it is one and differs from `value`. `None` stands for an empty field.
pub(crate) fn number(ui: &mut Ui, label: &str, value: Option<f64>) -> Option<f64> {
    let shown = value.map_or_else(String::new, |value| format!("{value}"));
    let entered = ui
        .horizontal_wrapped(|ui| {
            let name = ui.label(label).id;
            let (entered, typed) = draft(ui, (label, name), &shown, NUMBER_WIDTH);
            if typed.is_some_and(|typed| !typed.trim().is_empty() && parsed(&typed).is_none()) {
                ui.label(RichText::new("is no number").color(ui.visuals().warn_fg_color));
            }
            entered
        })
        .inner?;
    parsed(&entered).filter(|number| value != Some(*number))
}

/// A short number with its label in front, shown with so many decimals.
pub(crate) fn short_number(ui: &mut Ui, label: &str, value: f64, decimals: usize) -> Option<f64> {
    let name = ui.label(label).id;
    let (entered, _) = draft(ui, (label, name), &format!("{value:.decimals$}"), SHORT_WIDTH);
    parsed(&entered?)
}

/// One of several words; the one that was chosen anew.
pub(crate) fn choice<T: PartialEq + Copy>(
    ui: &mut Ui,
    label: &str,
    value: Option<T>,
    options: &[(T, &str)],
) -> Option<T> {
    let known = options.iter().find(|(option, _)| value == Some(*option));
    let shown = known.map_or("choose", |(_, word)| word);
    let mut chosen = None;
    ui.horizontal_wrapped(|ui| {
        let name = ui.label(label).id;
        let list = ComboBox::from_id_salt(label).selected_text(shown).show_ui(ui, |ui| {
            for (option, word) in options {
                if ui.selectable_label(value == Some(*option), *word).clicked() {
                    chosen = Some(*option).filter(|option| value != Some(*option));
                    ui.close();
                }
            }
        });
        take_wish(ui, &list.response);
        let _ = list.response.labelled_by(name);
    });
    chosen
}

/// A name out of a list; the one that was chosen anew.
pub(crate) fn name(ui: &mut Ui, label: &str, value: Option<&str>, names: &[&str]) -> Option<String> {
    let numbered: Vec<(usize, &str)> = names.iter().copied().enumerate().collect();
    let at = names.iter().position(|name| Some(*name) == value);
    choice(ui, label, at, &numbered).map(|at| names[at].to_owned())
}

/// Makes the field that is shown next take what is typed.
pub(crate) fn focus_next(ui: &Ui) {
    ui.data_mut(|data| data.insert_temp(wanted(), true));
}

/// Takes that back, where no field was shown.
pub(crate) fn focus_none(ui: &Ui) {
    ui.data_mut(|data| data.remove::<bool>(wanted()));
}

fn take_wish(ui: &Ui, response: &Response) {
    if ui.data_mut(|data| data.remove_temp::<bool>(wanted())).is_some() {
        response.request_focus();
    }
}

fn wanted() -> Id {
    Id::unique("a field is to take what is typed")
}

fn parsed(text: &str) -> Option<f64> {
    let number: f64 = text.trim().replace(',', ".").replace('\u{2212}', "-").parse().ok()?;
    number.is_finite().then_some(number)
}

/// A text field with a draft; what was entered, and what is being typed.
fn draft(
    ui: &mut Ui,
    (label, name): (&str, Id),
    value: &str,
    width: f32,
) -> (Option<String>, Option<String>) {
    let id = ui.make_persistent_id(("field", label));
    let mut typed = ui.data(|data| data.get_temp::<String>(id)).unwrap_or_else(|| value.to_owned());
    let field = TextEdit::singleline(&mut typed).id(id).desired_width(width);
    let response = ui.add(field).labelled_by(name);
    take_wish(ui, &response);
    if response.has_focus() {
        ui.data_mut(|data| data.insert_temp(id, typed.clone()));
        return (None, Some(typed));
    }
    ui.data_mut(|data| data.remove::<String>(id));
    let gave_up = ui.input(|input| input.key_pressed(Key::Escape));
    let entered = response.lost_focus() && !gave_up && typed != value;
    if entered && value.is_empty() && ui.input(|input| input.key_pressed(Key::Enter)) {
        // A field that adds things is ready for the next one.
        response.request_focus();
    }
    (entered.then_some(typed), None)
}

#[cfg(test)]
mod tests {
    use super::parsed;

    #[test]
    fn numbers_are_read_with_point_or_comma_and_nothing_else_is() {
        assert_eq!(parsed(" 1,5 "), Some(1.5));
        assert_eq!(parsed("\u{2212}2e-3"), Some(-0.002));
        for text in ["", "one", "1.5 m", "inf", "NaN"] {
            assert_eq!(parsed(text), None, "{text}");
        }
    }
}
