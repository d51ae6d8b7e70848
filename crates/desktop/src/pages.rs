//! Pages laid over the screen: acts, keys, the day book, looks, cautions.

use crate::acts;
use crate::command::{Command, Commands, Over};
use crate::form::fields;
use crate::places::Remembered;
use crate::session::Session;
use eframe::egui::{self, Align, Id, Layout, Modal, ScrollArea, Ui};

/// Part of the screen that a page takes, and its greatest width, points.
const SHARE: (f32, f32) = (0.6, 0.7);
const MOST_WIDTH: f32 = 760.0;

/// Shows a page.
pub(crate) fn show(
    ui: &mut Ui,
    over: Over,
    (session, remembered): (Option<&Session>, &Remembered),
    commands: &mut Commands,
) {
    let shown = Modal::new(Id::unique("page")).show(ui.ctx(), |ui| {
        let screen = ui.ctx().content_rect().size();
        ui.set_width((screen.x * SHARE.0).min(MOST_WIDTH));
        ui.set_height(screen.y * SHARE.1);
        let is_over = head(ui, over);
        match over {
            Over::Acts => acts::list_page(ui, session, commands),
            Over::Keys => acts::keys_page(ui, session),
            Over::Daybook => daybook(ui, session),
            Over::Looks => looks(ui, remembered, commands),
            Over::Cautions => {
                for caution in filmgauge_report::CAUTIONS {
                    ui.label(*caution);
                }
            }
        }
        is_over
    });
    if shown.inner || shown.should_close() {
        commands.push(Command::Over(None));
    }
}

/// The page's name, and a way back; whether it was taken.
fn head(ui: &mut Ui, over: Over) -> bool {
    let title = match over {
        Over::Acts => "Acts",
        Over::Keys => "Keys",
        Over::Daybook => "Day book",
        Over::Looks => "Looks and name",
        Over::Cautions => "Cautions",
    };
    let row = ui.horizontal(|ui| {
        ui.heading(title);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| ui.button("Back").clicked()).inner
    });
    row.inner
}

/// Every change, latest first.
fn daybook(ui: &mut Ui, session: Option<&Session>) {
    let Some(session) = session else { return };
    let entries = session.workbook.entries();
    ui.label(format!("{} lines. Every change can be undone, also those of other days.", entries.len()));
    let height = ui.text_style_height(&egui::TextStyle::Body);
    ScrollArea::both().auto_shrink(false).show_rows(ui, height, entries.len(), |ui, rows| {
        for at in rows {
            let entry = &entries[entries.len() - 1 - at];
            let verb = match (entry.undoes, entry.redoes) {
                (Some(_), _) => "took back: ",
                (_, Some(_)) => "did again: ",
                _ => "",
            };
            let when = entry.when.replace('T', " ").trim_end_matches('Z').to_owned();
            let told = |text: &Option<String>| {
                text.as_deref().map_or_else(|| "nothing".to_owned(), |text| text.replace('\n', " "))
            };
            let changes = entry.changes.iter().take(1);
            let changes: Vec<String> = changes
                .map(|change| format!("{}: {}, now {}", change.place, told(&change.old), told(&change.new)))
                .collect();
            ui.label(format!("{when}  {}  {verb}{}  {}", entry.who, entry.act, changes.join("")));
        }
    });
}

fn looks(ui: &mut Ui, remembered: &Remembered, commands: &mut Commands) {
    if let Some(who) = fields::text(ui, "Who works here", &remembered.who) {
        commands.push(Command::Who(who));
    }
    let sizes = [75, 100, 125, 150, 175, 200].map(|percent: u16| (percent, format!("{percent} %")));
    let sizes: Vec<(u16, &str)> = sizes.iter().map(|(percent, word)| (*percent, word.as_str())).collect();
    if let Some(percent) = fields::choice(ui, "Size of text", Some(remembered.text_percent), &sizes) {
        commands.push(Command::TextSize(percent));
    }
    let shades = [(None, "as the system"), (Some(true), "dark"), (Some(false), "light")];
    if let Some(dark) = fields::choice(ui, "Shade", Some(remembered.dark), &shades) {
        commands.push(Command::Dark(dark));
    }
    ui.label("Units are the test's own: choose them in the line \"Test\".");
}
