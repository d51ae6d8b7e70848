//! The line where films are added.

use super::{Line, State, fields};
use crate::command::{Command, Commands};
use crate::session::Session;
use eframe::egui::Ui;
use std::path::PathBuf;

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let state = match session.document().camera.len() {
        0 => State::Empty("drop films on the window, or type a path here".into()),
        1 => State::Done("1 film".into()),
        n => State::Done(format!("{n} films")),
    };
    vec![Line::new("films", "Films", state)]
}

pub(super) fn open(ui: &mut Ui, _: &Session, _: &Line, commands: &mut Commands) {
    if let Some(path) = fields::text(ui, "Add a film", "") {
        commands.push(Command::AddFilms(vec![PathBuf::from(path.trim())]));
    }
    ui.label("A video file, or stills as a pattern with one *, such as films/side/*.png. Films are only ever read.");
}
