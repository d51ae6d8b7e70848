//! The form on the screen: headings, lines with their state, and under the chosen line what belongs to it.

use super::{Line, SECTIONS, State};
use crate::command::{Command, Commands};
use crate::session::Session;
use eframe::egui::{self, Button, Color32, Frame, RichText, Role, ScrollArea, Ui, WidgetInfo};

/// Shows the form.
pub(crate) fn show(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    head(ui, session, commands);
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        for section in &SECTIONS {
            let lines = (section.lines)(session);
            if lines.is_empty() {
                continue;
            }
            ui.add_space(4.0);
            ui.label(RichText::new(section.name).strong());
            for line in lines {
                let is_open = session.view.line == line.key;
                head_of(ui, &line, is_open, commands);
                if is_open {
                    let frame = Frame::group(ui.style()).inner_margin(8);
                    frame.show(ui, |ui| {
                        ui.set_width(ui.available_width());
                        ui.push_id(&line.key, |ui| (section.open)(ui, session, &line, commands));
                    });
                }
            }
        }
        ui.add_space(8.0);
        ui.separator();
        for caution in filmgauge_report::CAUTIONS {
            ui.label(RichText::new(*caution).small());
        }
    });
}

/// The test's name, how much is still needed, and measuring.
fn head(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    let test = &session.document().test;
    ui.heading(format!("{}  {}", test.id, test.title));
    let needs = super::lines(session).iter().filter(|line| line.state.is_need()).count();
    ui.horizontal_wrapped(|ui| {
        match &session.measuring {
            Some(measuring) => {
                let stop = Button::new("Stop measuring");
                if ui.add_enabled(!measuring.is_stopping(), stop).clicked() {
                    commands.push(Command::Stop);
                }
            }
            None => {
                let name = if session.is_outdated() { "Measure again" } else { "Measure" };
                if ui.button(name).clicked() {
                    commands.push(Command::Measure);
                }
            }
        }
        if session.measured.is_some() && ui.button("Open the sheet").clicked() {
            commands.push(Command::Sheet);
        }
        if needs > 0 && ui.button("Next need").clicked() {
            commands.push(Command::NextNeed);
        }
    });
    ui.label(standing(session, needs));
    if let Some(measuring) = &session.measuring {
        let how_far = measuring.how_far();
        let share = how_far.total.filter(|total| *total > 0).map(|total| how_far.done as f32 / total as f32);
        let seconds = measuring.since.elapsed().as_secs();
        let words = format!("{}: {}, {seconds} s", how_far.step, how_far.done);
        let bar = ui.add(egui::ProgressBar::new(share.unwrap_or(0.0)).text(&words));
        bar.widget_info(|| WidgetInfo::labeled(Role::ProgressIndicator, true, format!("Measuring, {words}")));
    }
    ui.separator();
}

/// Where the whole stands, in a sentence.
fn standing(session: &Session, needs: usize) -> String {
    let needs = match needs {
        0 => "Nothing is missing.".to_owned(),
        1 => "1 line needs something.".to_owned(),
        n => format!("{n} lines need something."),
    };
    let figures = match (&session.measured, session.is_outdated()) {
        _ if session.failure.is_some() => {
            format!(" Measuring gave nothing: {}", session.failure.as_deref().unwrap_or_default())
        }
        (None, _) => " Not measured yet.".to_owned(),
        (Some(_), true) => " The figures are older than the dossier; measure again.".to_owned(),
        (Some(_), false) => " The figures are those of the dossier as it stands.".to_owned(),
    };
    needs + &figures
}

fn head_of(ui: &mut Ui, line: &Line, is_open: bool, commands: &mut Commands) {
    let colour = match line.state {
        State::Person(_) => Some(ui.visuals().warn_fg_color),
        State::Empty(_) => Some(ui.visuals().weak_text_color()),
        State::Done(_) => None,
    };
    let words = format!("{} {}: {}", line.state.sign(), line.title, line.state.text());
    let text = RichText::new(words).color(colour.unwrap_or_else(|| ui.visuals().text_color()));
    let button = Button::selectable(is_open, text).wrap().fill(Color32::TRANSPARENT);
    let response = ui.add_sized([ui.available_width(), 0.0], button);
    let name = format!("{}: {}, {}", line.title, line.state.word(), line.state.text());
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, is_open, &name));
    if response.clicked() {
        commands.push(Command::Line(if is_open { String::new() } else { line.key.clone() }));
        if let Some((camera, frame)) = line.evidence.clone().filter(|_| !is_open) {
            commands.push(Command::Evidence(camera, frame));
        }
    }
}
