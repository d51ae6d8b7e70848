//! One line for each camera: its film, how it looks at the path, its lens file.

use super::{Line, State, fields};
use crate::command::Commands;
use crate::edits::{clear, remove, set};
use crate::film::ReelState;
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_quantities::ViewPlane;

const VIEWS: [(ViewPlane, &str); 2] =
    [(ViewPlane::Side, "from the side"), (ViewPlane::Overhead, "from above")];

pub(super) fn lines(session: &Session) -> Vec<Line> {
    (0..session.document().camera.len())
        .map(|index| Line::of_camera(session, index, "Camera", state(session, index)))
        .collect()
}

fn state(session: &Session, index: usize) -> State {
    let camera = &session.document().camera[index];
    let view = VIEWS.iter().find(|(view, _)| *view == camera.view).map_or("", |(_, word)| word);
    match session.reels.get(index).map(|reel| (reel.state(), reel.n_frames())) {
        Some((ReelState::Ready, n)) => State::Done(format!("{n} frames, {view}")),
        Some((ReelState::Failed(why), _)) => State::Person(why),
        Some((ReelState::Reading(done), _)) => State::Done(format!("reading through, {done} frames so far")),
        None => State::Done(camera.footage.clone()),
    }
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    let camera = &session.document().camera[line.index];
    let of = |what: &str| format!("{what} of camera {}", camera.id);
    if let Some(text) = fields::text(ui, "Film", &camera.footage) {
        commands.edit(of("film"), vec![set("camera", line.index, "footage", text)]);
    }
    if let Some(view) = fields::choice(ui, "Looks at the path", Some(camera.view), &VIEWS) {
        let word = if view == ViewPlane::Overhead { "overhead" } else { "side" };
        commands.edit(of("view"), vec![set("camera", line.index, "view", word)]);
    }
    if let Some(text) = fields::text(ui, "Lens file", camera.lens.as_deref().unwrap_or_default()) {
        let edit = match text.trim() {
            "" => clear("camera", line.index, "lens"),
            path => set("camera", line.index, "lens", path),
        };
        commands.edit(of("lens file"), vec![edit]);
    }
    let in_use = session.targets_of(&camera.id).count();
    if in_use > 0 {
        ui.label(format!("{in_use} targets belong to it."));
    } else if ui.button("Take this camera out").clicked() {
        commands.edit(format!("camera {} taken out", camera.id), vec![remove("camera", line.index)]);
    }
}
