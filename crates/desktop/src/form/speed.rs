//! Film speed of each camera: the figure, where it comes from, and timing marks on the film as evidence.

use super::{Line, State, fields};
use crate::command::{Command, Commands};
use crate::edits::{clear, inline, set};
use crate::session::{Purpose, Session};
use eframe::egui::Ui;
use filmgauge_dossier::document::SpeedEntry;
use filmgauge_quantities::COVERAGE_95;

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let state = |speed: &Option<SpeedEntry>| match speed {
        None => State::Empty("give the true frames a second, from the camera record".into()),
        Some(speed) => {
            let doubt = match speed.relative_uncertainty {
                0.0 => "uncertainty not given".to_owned(),
                share => format!("± {:.1e} of it", COVERAGE_95 * share),
            };
            State::Done(format!("{} frames/s, {doubt}, {}", speed.frames_per_s, speed.source))
        }
    };
    let cameras = session.document().camera.iter().enumerate();
    cameras.map(|(n, camera)| Line::of_camera(session, n, "Film speed", state(&camera.speed))).collect()
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    let camera = &session.document().camera[line.index];
    let act = format!("film speed of {}", camera.id);
    let figure = camera.speed.as_ref().map(|speed| speed.frames_per_s);
    if let Some(frames_per_s) = fields::number(ui, "Frames a second", figure) {
        let edit = match camera.speed {
            Some(_) => set("camera", line.index, "speed.frames_per_s", frames_per_s),
            None => {
                let table = vec![("frames_per_s", frames_per_s.into()), ("source", "camera record".into())];
                set("camera", line.index, "speed", inline(table))
            }
        };
        commands.edit(act, vec![edit]);
        return;
    }
    ui.label("Never the rate at which the file plays: what the camera really took.");
    let Some(speed) = &camera.speed else { return };
    if let Some(source) = fields::text(ui, "Known from", &speed.source) {
        commands.edit(act.clone(), vec![set("camera", line.index, "speed.source", source)]);
    }
    let share = Some(speed.relative_uncertainty);
    if let Some(share) = fields::number(ui, "Standard uncertainty, share of it", share) {
        commands.edit(act, vec![set("camera", line.index, "speed.relative_uncertainty", share)]);
    }
    timing_marks(ui, session, line.index, commands);
}

fn timing_marks(ui: &mut Ui, session: &Session, index: usize, commands: &mut Commands) {
    let camera = &session.document().camera[index];
    match camera.speed.as_ref().and_then(|speed| speed.marks.as_ref()) {
        None => {
            ui.label("Optional: a lamp of known frequency in view, from which the film's clock is fitted.");
            if let Some(hz) = fields::number(ui, "Timing marks a second", session.view.lamp_hz) {
                commands.push(Command::LampHz(hz));
            }
            if session.view.lamp_hz.is_some() && ui.button("Show the lamp of the timing marks").clicked() {
                commands.push(Command::Place(Purpose::TimingMarks));
            }
        }
        Some(marks) => {
            if let Some(hz) = fields::number(ui, "Timing marks a second", Some(marks.frequency_hz)) {
                let edit = set("camera", index, "speed.marks.frequency_hz", hz);
                commands.edit("frequency of the timing marks", vec![edit]);
            }
            if ui.button("No timing marks").clicked() {
                commands.edit("timing marks taken out", vec![clear("camera", index, "speed.marks")]);
            }
        }
    }
}
