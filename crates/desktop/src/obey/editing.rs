//! Edits of the dossier: made, taken back, done again, written.

use super::viewing::look_through;
use crate::film::Reel;
use crate::session::Session;
use eframe::egui::Context;
use filmgauge_daybook::{DaybookError, Edit};
use filmgauge_dossier::{Dossier, new_dossier_text};
use std::path::PathBuf;

/// Makes edits as one act.
pub(crate) fn edit(session: &mut Session, ctx: &Context, act: &str, edits: &[Edit]) -> Option<String> {
    let outcome = session.workbook.apply(act, edits);
    changed(session, ctx);
    match outcome {
        Ok(()) => None,
        Err(error) => Some(format!("{act}: {error}")),
    }
}

pub(super) fn undo(session: &mut Session, ctx: &Context) -> Option<String> {
    let outcome = session.workbook.undo();
    told(session, ctx, outcome, "Taken back", "There is nothing to undo.")
}

pub(super) fn redo(session: &mut Session, ctx: &Context) -> Option<String> {
    let outcome = session.workbook.redo();
    told(session, ctx, outcome, "Done again", "There is nothing to do again.")
}

/// One step after another until there is none left.
pub(super) fn all(
    session: &mut Session,
    ctx: &Context,
    step: fn(&mut Session, &Context) -> Option<String>,
) -> Option<String> {
    let mut said = None;
    for _ in 0..=session.workbook.entries().len() {
        let version = session.workbook.version();
        said = step(session, ctx);
        if session.workbook.version() == version {
            break;
        }
    }
    said
}

fn told(
    session: &mut Session,
    ctx: &Context,
    outcome: Result<Option<String>, DaybookError>,
    verb: &str,
    nothing: &str,
) -> Option<String> {
    changed(session, ctx);
    Some(match outcome {
        Ok(Some(act)) => format!("{verb}: {act}"),
        Ok(None) => nothing.to_owned(),
        Err(error) => error.to_string(),
    })
}

pub(super) fn save(session: &mut Session) -> Option<String> {
    Some(match session.workbook.save() {
        Ok(()) => "Everything is on disk.".to_owned(),
        Err(error) => error.to_string(),
    })
}

/// Films become cameras, with ids from their names.
pub(super) fn add_films(session: &mut Session, ctx: &Context, films: &[PathBuf]) -> Option<String> {
    let root = session.workbook.dossier().root.clone();
    // The entries of a new dossier for these films are just the ones to add.
    let text = new_dossier_text(&root, films);
    let made = match Dossier::parse(root, "dossier.toml", text) {
        Ok(made) => made,
        Err(error) => return Some(error.to_string()),
    };
    let mut taken: Vec<String> = session.document().camera.iter().map(|camera| camera.id.clone()).collect();
    let mut edits = Vec::new();
    for camera in &made.document.camera {
        let named = |n: u32| if n == 1 { camera.id.clone() } else { format!("{}_{n}", camera.id) };
        let id = (1..).map(named).find(|id| !taken.contains(id)).unwrap_or_default();
        taken.push(id.clone());
        let values =
            vec![("id", id.into()), ("footage", camera.footage.as_str().into()), ("view", "side".into())];
        edits.push(crate::edits::append("camera", values));
    }
    let n = edits.len();
    let said = edit(session, ctx, if n == 1 { "film added" } else { "films added" }, &edits);
    look_through(session, session.document().camera.len().saturating_sub(1));
    said
}

/// Whatever follows from a changed dossier: films of its cameras, and nothing chosen that is gone.
fn changed(session: &mut Session, ctx: &Context) {
    match_reels(session, ctx);
    let n = session.document().camera.len();
    look_through(session, session.view.camera.min(n.saturating_sub(1)));
    if session.view.target.is_some() && session.chosen().is_none() {
        session.view.target = None;
    }
}

/// One film for each camera; those that are open already stay so.
pub(super) fn match_reels(session: &mut Session, ctx: &Context) {
    let mut open = std::mem::take(&mut session.reels);
    let root = session.workbook.dossier().root.clone();
    let reel_of = |camera: &filmgauge_dossier::document::CameraEntry| {
        if let Some(at) = open.iter().position(|reel| reel.is_of(camera)) {
            return open.swap_remove(at);
        }
        let ctx = ctx.clone();
        Reel::begin(&root, camera, move || ctx.request_repaint())
    };
    session.reels = session.workbook.document().camera.iter().map(reel_of).collect();
}
