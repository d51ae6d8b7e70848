//! Measuring, and everything that threads hand over: between two pictures of the screen what came is taken.

use super::{calibrating, finding, handing, marking, viewing};
use crate::command::{Figure, Shown};
use crate::curves::{self, Curves};
use crate::desk::Desk;
use crate::measured::Measured;
use crate::session::Session;
use crate::work::{Measuring, Outcome};
use eframe::egui::{Context, OpenUrl};
use filmgauge_results::Panel;
use std::time::Instant;

/// Takes what came.
pub(crate) fn tend(desk: &mut Desk) {
    let Some(session) = &mut desk.session else { return };
    if session.view.playing.is_some() {
        viewing::tend_playing(session, Instant::now());
        desk.ctx.request_repaint();
    }
    if let Some(text) = finding::tend(session) {
        desk.messages.say(text);
    }
    if let Some(text) = calibrating::tend(session, &desk.ctx) {
        desk.messages.say(text);
    }
    if let Some(text) = marking::tend(session) {
        desk.messages.say(text);
    }
    if let Some(text) = handing::tend(session) {
        desk.messages.say(text);
    }
    if let Some(text) = tend_measuring(session) {
        desk.messages.say(text);
    }
}

pub(super) fn measure(session: &mut Session, ctx: &Context) -> Option<String> {
    if session.measuring.is_some() {
        return Some("It is being measured already.".to_owned());
    }
    if session.marking.is_some() {
        return Some("A marked film is being written from the results; stop it first.".to_owned());
    }
    if session.workbook.read_only().is_none()
        && let Err(error) = session.workbook.save()
    {
        // Marks by hand are read from their files.
        return Some(error.to_string());
    }
    let missing = filmgauge_dossier::missing(session.document());
    if let Some(first) = missing.first() {
        let more = match missing.len() {
            1 => String::new(),
            n => format!(" {} more things are missing.", n - 1),
        };
        return Some(format!("It cannot be measured yet. {}{more}", first.text));
    }
    let dossier = session.workbook.dossier().clone();
    let folder = session.workbook.read_only().is_none().then(|| dossier.root.join("results"));
    let ctx = ctx.clone();
    session.failure = None;
    session.measuring =
        Some(Measuring::begin(dossier, session.workbook.version(), folder, move || ctx.request_repaint()));
    Some("Measuring. The desk can be used meanwhile.".to_owned())
}

pub(super) fn stop(session: &mut Session) -> Option<String> {
    session.measuring.as_ref()?.stop();
    Some("Stopping at the next frame …".to_owned())
}

fn tend_measuring(session: &mut Session) -> Option<String> {
    let measuring = session.measuring.as_mut()?;
    let (version, since) = (measuring.version, measuring.since);
    let outcome = measuring.outcome()?;
    session.measuring = None;
    Some(match outcome {
        Outcome::Stopped => "Measuring was stopped; the figures are those of before.".to_owned(),
        Outcome::Failed(text) => {
            session.failure = Some(text.clone());
            format!("It could not be measured: {text}")
        }
        Outcome::Measured(results, written) => {
            session.failure = None;
            session.measured = Some(Measured::new(*results, version));
            let seconds = since.elapsed().as_secs_f64();
            match written {
                Ok(folder) => format!("Measured in {seconds:.1} s; files are in {}.", folder.display()),
                Err(text) => text,
            }
        }
    })
}

/// Opens a file of the results in whatever shows such files here.
pub(super) fn show(session: &Session, ctx: &Context, shown: Shown) -> Option<String> {
    session.measured.as_ref()?;
    let folder = session.workbook.dossier().root.join("results");
    let (what, place) = match shown {
        Shown::Sheet => ("sheet", folder.join("sheet.html")),
        Shown::Paper => ("sheet on paper", folder.join("sheet.pdf")),
        Shown::Workbook => ("tables", folder.join("results.xlsx")),
        Shown::Folder => ("results", folder),
    };
    let place = std::path::absolute(&place).unwrap_or(place);
    if !place.exists() {
        return Some(format!("{} is not there; measure again.", place.display()));
    }
    ctx.open_url(OpenUrl::new_tab(format!("file://{}", place.display())));
    Some(format!("The {what}: {}", place.display()))
}

/// Writes the curves that are shown.
pub(super) fn export(session: &Session, shown: &Curves, figure: Figure) -> Option<String> {
    let measured = session.measured.as_ref()?;
    // A folder of its own: the results hold what measuring alone makes, so that a recheck can compare them.
    let folder = session.workbook.dossier().root.join("results").join("figures");
    let mut written = Vec::new();
    for panel in shown.shown(session) {
        // As measured where it is one of the measurement's: the picture changes units itself.
        let own = measured.results.panels.iter().find(|own| own.title == panel.title);
        let panel: &Panel = own.unwrap_or(panel);
        let test = &session.document().test.id;
        match curves::export(panel, (test, session.units()), figure, &folder) {
            Ok(path) => written.push(path.display().to_string()),
            Err(text) => return Some(text),
        }
    }
    Some(if written.is_empty() {
        "No curve is shown.".to_owned()
    } else {
        format!("Written: {}", written.join(", "))
    })
}
