//! One line for each camera: its film, how it looks at the path, its lens file.

use super::{Line, State, fields, lens};
use crate::command::Commands;
use crate::edits::{clear, inline, list, remove, set};
use crate::film::ReelState;
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_daybook::Value;
use filmgauge_dossier::document::{CameraEntry, InclinedEntry, Role, SteadyEntry};
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
    lens::open(ui, session, line.index, commands);
    steadied(ui, camera, line.index, commands);
    inclined(ui, session, line.index, commands);
    super::depth::depth(ui, session, line.index, commands);
    let in_use = session.targets_of(&camera.id).count();
    if in_use > 0 {
        ui.label(format!("{in_use} targets belong to it."));
    } else if ui.button("Take this camera out").clicked() {
        commands.edit(format!("camera {} taken out", camera.id), vec![remove("camera", line.index)]);
    }
}

/// By what each frame's own step is removed. Perforations are boxes in the dossier; here they can only be kept or left.
fn steadied(ui: &mut Ui, camera: &CameraEntry, index: usize, commands: &mut Commands) {
    const WAYS: [(u8, &str); 3] =
        [(0, "not steadied"), (1, "by the targets on the ground"), (2, "by perforations")];
    let now = match &camera.steady {
        None => 0,
        Some(SteadyEntry::Ground {}) => 1,
        Some(SteadyEntry::Perforations { .. }) => 2,
    };
    let n_offered = if now == 2 { 3 } else { 2 };
    let Some(way) = fields::choice(ui, "The film is", Some(now), &WAYS[..n_offered]) else { return };
    let edit = match way {
        1 => set("camera", index, "steady", inline(vec![("by", "ground".into())])),
        _ => clear("camera", index, "steady"),
    };
    commands.edit(format!("steadying of camera {}", camera.id), vec![edit]);
}

/// Inclination of each moving body's path to this camera's plane.
fn inclined(ui: &mut Ui, session: &Session, index: usize, commands: &mut Commands) {
    let camera = &session.document().camera[index];
    let moving = session.document().body.iter().filter(|body| body.role != Some(Role::Ground));
    for body in moving {
        let known = camera.inclined.iter().find(|entry| entry.body == body.id);
        let (deg, u_deg) = known.map_or((0.0, 0.0), |entry| (entry.deg, entry.uncertainty_deg));
        let label = format!("Path of {} nears the camera by, degrees", body.id);
        let new = fields::number(ui, &label, Some(deg));
        let doubt = known.and_then(|_| {
            let label = format!("Standard uncertainty of that of {}, degrees", body.id);
            fields::number(ui, &label, Some(u_deg))
        });
        if new.is_none() && doubt.is_none() {
            continue;
        }
        let others = camera.inclined.iter().filter(|entry| entry.body != body.id).cloned();
        let entry = InclinedEntry {
            body: body.id.clone(),
            deg: new.unwrap_or(deg),
            uncertainty_deg: doubt.unwrap_or(u_deg),
        };
        let is_parallel = entry.deg == 0.0 && entry.uncertainty_deg == 0.0;
        let entries = others.chain((!is_parallel).then_some(entry)).map(|entry| value_of(&entry)).collect();
        let act = format!("path of {} to camera {}", body.id, camera.id);
        commands.edit(act, vec![set("camera", index, "inclined", list(entries))]);
    }
}

fn value_of(entry: &InclinedEntry) -> Value {
    inline(vec![
        ("body", entry.body.as_str().into()),
        ("deg", entry.deg.into()),
        ("uncertainty_deg", entry.uncertainty_deg.into()),
    ])
}
