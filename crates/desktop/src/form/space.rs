//! Cameras joined: those with a pose tell yaw, pitch and roll together; those on both sides tell of the centre plane.

use super::{Line, State, fields};
use crate::command::Commands;
use crate::edits::{Step, inline, list, path};
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_daybook::Edit;
use filmgauge_quantities::ViewPlane;

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let document = session.document();
    let posed = document.camera.iter().filter(|camera| camera.pose.is_some()).count();
    let joined = document.space.as_ref().map(|space| space.cameras.as_slice());
    let state = match joined {
        Some(cameras) if cameras.len() < 2 => State::Person("two cameras or more are joined".into()),
        Some(cameras) => State::Done(cameras.join(", ")),
        None if posed < 2 && sides(session).len() < 2 => return Vec::new(),
        None => State::Done("none; optional".into()),
    };
    vec![Line::new("space", "Cameras joined in space", state)]
}

/// Ids of the side cameras.
fn sides(session: &Session) -> Vec<&str> {
    let cameras = session.document().camera.iter();
    cameras.filter(|camera| camera.view == ViewPlane::Side).map(|camera| camera.id.as_str()).collect()
}

/// Which side camera stands left of the path and which right.
fn centre(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    let sides = sides(session);
    let known = session.document().centre.as_ref();
    if sides.len() < 2 && known.is_none() {
        return;
    }
    let place = |id: &str| sides.iter().position(|other| *other == id);
    let mut offered: Vec<(usize, &str)> = sides.iter().copied().enumerate().collect();
    offered.push((usize::MAX, "none"));
    let now = [known.map(|known| known.left.as_str()), known.map(|known| known.right.as_str())];
    for (which, label) in ["Camera left of the path", "Camera right of the path"].into_iter().enumerate() {
        let shown = now[which].map_or(Some(usize::MAX), place);
        let Some(chosen) = fields::choice(ui, label, shown, &offered) else { continue };
        let at = path(&[Step::Key("centre")]);
        let edit = match sides.get(chosen) {
            None => Edit::Remove { path: at },
            Some(chosen) => {
                let stays = now[1 - which].filter(|id| id != chosen);
                let other =
                    stays.or_else(|| sides.iter().copied().find(|id| id != chosen)).unwrap_or_default();
                let [left, right] = if which == 0 { [chosen, other] } else { [other, chosen] };
                Edit::Set { path: at, value: inline(vec![("left", left.into()), ("right", right.into())]) }
            }
        };
        commands.edit("cameras on both sides", vec![edit]);
    }
}

pub(super) fn open(ui: &mut Ui, session: &Session, _: &Line, commands: &mut Commands) {
    centre(ui, session, commands);
    let document = session.document();
    let joined = document.space.as_ref().map(|space| space.cameras.clone()).unwrap_or_default();
    ui.label("The first of them gives the time. Targets that two show bear one id.");
    for camera in document.camera.iter().filter(|camera| camera.pose.is_some() || joined.contains(&camera.id))
    {
        let mut is_joined = joined.contains(&camera.id);
        if !ui.checkbox(&mut is_joined, format!("Camera {} is joined", camera.id)).clicked() {
            continue;
        }
        let others = joined.iter().filter(|id| **id != camera.id).cloned();
        let cameras: Vec<String> = others.chain(is_joined.then(|| camera.id.clone())).collect();
        let at = path(&[Step::Key("space")]);
        let edit = if cameras.is_empty() {
            Edit::Remove { path: at }
        } else {
            let names = cameras.iter().map(|id| id.as_str().into()).collect();
            Edit::Set { path: at, value: inline(vec![("cameras", list(names))]) }
        };
        commands.edit("cameras joined in space", vec![edit]);
    }
}
