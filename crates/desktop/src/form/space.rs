//! Cameras joined in space: which of those with a pose tell yaw, pitch and roll together.

use super::{Line, State};
use crate::command::Commands;
use crate::edits::{Step, inline, list, path};
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_daybook::Edit;

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let document = session.document();
    let posed = document.camera.iter().filter(|camera| camera.pose.is_some()).count();
    let joined = document.space.as_ref().map(|space| space.cameras.as_slice());
    let state = match joined {
        Some(cameras) if cameras.len() < 2 => State::Person("two cameras or more are joined".into()),
        Some(cameras) => State::Done(cameras.join(", ")),
        None if posed < 2 => return Vec::new(),
        None => State::Done("none; optional".into()),
    };
    vec![Line::new("space", "Cameras joined in space", state)]
}

pub(super) fn open(ui: &mut Ui, session: &Session, _: &Line, commands: &mut Commands) {
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
