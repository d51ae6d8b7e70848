//! The marked film of the camera that is looked at: begun, stopped, told of.

use crate::session::Session;
use crate::work::{Marked, Marking};
use eframe::egui::Context;

/// Folder of marked films within the dossier: results hold nothing but what measuring made.
const FOLDER: &str = "marked";

pub(super) fn begin(session: &mut Session, ctx: &Context) -> Option<String> {
    if session.marking.is_some() {
        return Some("A marked film is being written already.".to_owned());
    }
    if session.measuring.is_some() {
        return Some("It is being measured; a marked film is made of what comes out.".to_owned());
    }
    if session.workbook.read_only().is_some() {
        return Some("The dossier is open for reading only, so no film is written into it.".to_owned());
    }
    if let Err(error) = session.workbook.save() {
        // The results are compared with the file.
        return Some(error.to_string());
    }
    let camera = session.camera()?.id.clone();
    let dossier = session.workbook.dossier().clone();
    let folder = dossier.root.join(FOLDER);
    if let Err(error) = filmgauge_shelf::make_folder(&folder) {
        return Some(format!("{}: {error}", folder.display()));
    }
    let path = folder.join(format!("{}.mp4", filmgauge_shelf::file_name(&camera)));
    let ctx = ctx.clone();
    session.marking = Some(Marking::begin(dossier, camera.clone(), path, move || ctx.request_repaint()));
    Some(format!("The marked film of camera {camera} is being written. The desk can be used meanwhile."))
}

pub(super) fn stop(session: &mut Session) -> Option<String> {
    session.marking.as_ref()?.stop();
    Some("Stopping at the next frame …".to_owned())
}

pub(super) fn tend(session: &mut Session) -> Option<String> {
    let outcome = session.marking.as_mut()?.outcome()?;
    session.marking = None;
    Some(match outcome {
        Marked::Made(made) => format!(
            "Marked film: {}, {} pictures, {} a second: {}.",
            made.path.display(),
            made.n_pictures,
            made.per_second,
            made.slower
        ),
        Marked::Stopped(text) => format!("The marked film was {text}."),
        Marked::Failed(text) => format!("The marked film could not be written: {text}."),
    })
}
