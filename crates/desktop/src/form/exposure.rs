//! Length of one exposure of each camera.

use super::{Line, State, fields};
use crate::command::Commands;
use crate::edits::set;
use crate::session::Session;
use eframe::egui::Ui;

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let state = |exposure_s: Option<f64>| match exposure_s {
        None => State::Empty("give it from the camera record".into()),
        Some(exposure_s) => State::Done(format!("{} ms", exposure_s * 1e3)),
    };
    let cameras = session.document().camera.iter().enumerate();
    cameras.map(|(n, camera)| Line::of_camera(session, n, "Exposure", state(camera.exposure_s))).collect()
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    let camera = &session.document().camera[line.index];
    let ms = camera.exposure_s.map(|exposure_s| exposure_s * 1e3);
    if let Some(ms) = fields::number(ui, "Exposure, ms", ms) {
        let edit = set("camera", line.index, "exposure_s", ms / 1e3);
        commands.edit(format!("exposure of {}", camera.id), vec![edit]);
    }
    ui.label("A frame's time is the middle of its exposure.");
}
