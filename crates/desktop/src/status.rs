//! The line at the bottom: what was said last, what is saved, where the film is.

use crate::film;
use crate::session::Session;
use eframe::egui::{Label, Role, Ui, WidgetInfo};

/// Sentences said to the person, latest last.
#[derive(Default)]
pub(crate) struct Messages {
    said: Vec<String>,
}

/// Sentences that are kept.
const MOST: usize = 50;

impl Messages {
    /// Says a sentence.
    pub(crate) fn say(&mut self, text: impl Into<String>) {
        self.said.push(text.into());
        if self.said.len() > MOST {
            self.said.remove(0);
        }
    }

    /// The last one.
    pub(crate) fn last(&self) -> &str {
        self.said.last().map_or("", String::as_str)
    }

    /// All that are kept, latest last.
    pub(crate) fn all(&self) -> &[String] {
        &self.said
    }
}

/// Shows the line.
pub(crate) fn show(ui: &mut Ui, session: Option<&Session>, messages: &Messages) {
    ui.horizontal_wrapped(|ui| {
        if let Some(session) = session {
            ui.label(kept(session));
            ui.separator();
            ui.label(film::told(session, session.view.camera));
            ui.separator();
        }
        let label = ui.add(Label::new(messages.last()).wrap());
        label.widget_info(|| WidgetInfo::labeled(Role::Status, true, messages.last()));
        if messages.all().len() > 1 {
            let earlier = messages.all().iter().rev().skip(1).take(8).cloned().collect::<Vec<_>>();
            label.on_hover_text(format!("Said before:\n{}", earlier.join("\n")));
        }
    });
}

fn kept(session: &Session) -> String {
    match session.workbook.read_only() {
        Some(why) => format!("For reading only: {why}"),
        None if session.workbook.is_saved() => "All saved".to_owned(),
        None => "In the day book; files follow".to_owned(),
    }
}
