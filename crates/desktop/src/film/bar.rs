//! The bar under the film: cameras, steps, frame and time, playing, how the picture is seen.

use crate::command::{Command, Commands};
use crate::form::fields;
use crate::session::Session;
use eframe::egui::{Slider, Ui};

/// Steps by their names.
const STEPS: [(&str, Command); 6] = [
    ("First", Command::First),
    ("-10", Command::Step(-10)),
    ("-1", Command::Step(-1)),
    ("+1", Command::Step(1)),
    ("+10", Command::Step(10)),
    ("Last", Command::Last),
];

/// Shows the bar.
pub(crate) fn show(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    ui.horizontal_wrapped(|ui| {
        for (index, camera) in session.document().camera.iter().enumerate() {
            let name = format!("Camera {}", camera.id);
            if ui.selectable_label(index == session.view.camera, name).clicked() {
                commands.push(Command::Camera(index));
            }
        }
        if session.document().camera.len() > 1 {
            let mut in_step = session.view.in_step;
            let box_ = ui.checkbox(&mut in_step, "Side by side");
            if box_.on_hover_text("All cameras at the same instant; needs a measurement").changed() {
                commands.push(Command::InStep);
            }
        }
        ui.separator();
        for (name, command) in STEPS {
            if ui.button(name).clicked() {
                commands.push(command);
            }
        }
        playing(ui, session, commands);
        ui.separator();
        where_to(ui, session, commands);
    });
}

fn playing(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    let name = if session.view.playing.is_some() { "Stop" } else { "Play" };
    if ui.button(name).clicked() {
        commands.push(Command::Play(false));
    }
    if ui.button("Play back").clicked() {
        commands.push(Command::Play(true));
    }
    if let Some(speed) = fields::short_number(ui, "frames/s", session.view.play_speed, 1) {
        commands.push(Command::PlaySpeed(speed));
    }
}

fn where_to(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    if let Some(frame) = fields::short_number(ui, "Frame", f64::from(session.frame()), 0) {
        commands.push(Command::Frame(frame.clamp(0.0, f64::from(u32::MAX)) as u32));
    }
    if let Some(time_s) = session.time_s()
        && let Some(wanted_ms) = fields::short_number(ui, "Time, ms", time_s * 1e3, 2)
    {
        commands.push(Command::Time(wanted_ms / 1e3));
    }
}

/// How the picture is seen; measuring never looks at it.
pub(crate) fn seen(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    if ui.button("Whole picture").clicked() {
        commands.push(Command::Whole);
    }
    let (mut brightness, mut contrast) = (session.view.brightness, session.view.contrast);
    let mut slider = |name: &str, value: &mut f32| {
        let name = ui.label(name).id;
        let slider = Slider::new(value, -1.0..=1.0).show_value(false);
        ui.add(slider).labelled_by(name).on_hover_text("Only for looking at it").changed()
    };
    if slider("Brightness", &mut brightness) | slider("Contrast", &mut contrast) {
        commands.push(Command::Levels(brightness, contrast));
    }
}
