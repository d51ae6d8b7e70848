//! The form on the screen: headings, lines with their state, and under the chosen line what belongs to it.

use super::{Line, SECTIONS, State, fields};
use crate::command::{Command, Commands, Shown};
use crate::session::Session;
use crate::work::{HowFar, Marking};
use eframe::egui::{
    self, Align, Button, Color32, Frame, Id, Layout, Response, RichText, Role, ScrollArea, Sense, Shape,
    Stroke, Ui, WidgetInfo, vec2,
};

/// Side of a line's sign, points.
const SIGN: f32 = 14.0;
/// Space between fields of an open line, points.
const FIELD_SPACE: f32 = 5.0;
/// Space between lines, points.
const LINE_SPACE: f32 = 1.0;
/// Space above the lines of a kind, points.
const GROUP_SPACE: f32 = 3.0;

/// Shows the form.
pub(crate) fn show(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    head(ui, session, commands);
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = LINE_SPACE;
        for section in &SECTIONS {
            let lines = (section.lines)(session);
            if lines.is_empty() {
                continue;
            }
            ui.add_space(GROUP_SPACE);
            for line in lines {
                let is_open = session.view.line == line.key;
                head_of(ui, &line, is_open, commands);
                if is_open {
                    if session.view.wants_field {
                        fields::focus_next(ui);
                    }
                    let frame = Frame::group(ui.style()).inner_margin(8);
                    frame.show(ui, |ui| {
                        ui.spacing_mut().item_spacing.y = FIELD_SPACE;
                        ui.set_width(ui.available_width());
                        ui.push_id(&line.key, |ui| (section.open)(ui, session, &line, commands));
                        fields::focus_none(ui);
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
    let title = if test.title == test.id { "" } else { test.title.as_str() };
    ui.heading(format!("{}  {title}", test.id));
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
            commands.push(Command::Show(Shown::Sheet));
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
    if let Some(marking) = &session.marking {
        marked_film(ui, marking, commands);
    }
    ui.separator();
}

/// How far the marked film is, and its stop.
fn marked_film(ui: &mut Ui, marking: &Marking, commands: &mut Commands) {
    let HowFar { done, total, .. } = marking.how_far();
    let share = total.filter(|total| *total > 0).map(|total| done as f32 / total as f32);
    let words = format!("Marked film, camera {}: frame {done}", marking.camera());
    ui.horizontal_wrapped(|ui| {
        let stop = Button::new("Stop the marked film");
        if ui.add_enabled(!marking.is_stopping(), stop).clicked() {
            commands.push(Command::StopMarking);
        }
    });
    let bar = ui.add(egui::ProgressBar::new(share.unwrap_or(0.0)).text(&words));
    bar.widget_info(|| WidgetInfo::labeled(Role::ProgressIndicator, true, &words));
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
        State::Person(_) => ui.visuals().warn_fg_color,
        State::Empty(_) => ui.visuals().weak_text_color(),
        State::Done(_) => ui.visuals().text_color(),
    };
    let response = ui
        .horizontal_top(|ui| {
            sign(ui, &line.state, colour);
            let text = RichText::new(format!("{}: {}", line.title, line.state.text())).color(colour);
            let button = Button::selectable(is_open, text).wrap();
            ui.with_layout(Layout::top_down_justified(Align::LEFT), |ui| ui.add(button)).inner
        })
        .inner;
    let name = format!("{}: {}, {}", line.title, line.state.word(), line.state.text());
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, is_open, &name));
    scroll_to(ui, line, is_open, &response);
    if response.clicked() {
        commands.push(Command::Line(if is_open { String::new() } else { line.key.clone() }));
    }
}

/// Brings a line into view when it was opened from elsewhere.
fn scroll_to(ui: &Ui, line: &Line, is_open: bool, response: &Response) {
    let id = Id::unique("line that was in view");
    if is_open && ui.data(|data| data.get_temp::<String>(id)).as_ref() != Some(&line.key) {
        ui.data_mut(|data| data.insert_temp(id, line.key.clone()));
        response.scroll_to_me(Some(Align::TOP));
    }
}

/// A sign that tells states apart without colour: a tick, an empty circle, a filled wedge.
fn sign(ui: &mut Ui, state: &State, colour: Color32) {
    let (rect, _) = ui.allocate_exact_size(vec2(SIGN, ui.spacing().interact_size.y), Sense::hover());
    let (at, half) = (rect.center(), SIGN / 2.0 - 2.0);
    let stroke = Stroke::new(1.8, colour);
    let painter = ui.painter();
    match state {
        State::Empty(_) => {
            painter.circle_stroke(at, half, stroke);
        }
        State::Done(_) => {
            let corner = at + vec2(-half * 0.2, half * 0.7);
            painter.line_segment([at + vec2(-half, 0.0), corner], stroke);
            painter.line_segment([corner, at + vec2(half, -half * 0.8)], stroke);
        }
        State::Person(_) => {
            let corners = [vec2(-half, -half), vec2(half, 0.0), vec2(-half, half)].map(|step| at + step);
            painter.add(Shape::convex_polygon(corners.to_vec(), colour, Stroke::NONE));
        }
    }
}
