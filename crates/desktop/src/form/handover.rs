//! The line of the hand-over: the archive of the test, and the proof that its results follow from its files.

use super::{Line, State, fields};
use crate::command::{Command, Commands};
use crate::obey::handing::archive;
use crate::session::Session;
use crate::work::{Handed, HandoverJob};
use eframe::egui::{RichText, Ui};

/// Differences and causes that are listed; the command line lists all.
const MOST_LISTED: usize = 12;

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let is_measured = session.workbook.dossier().root.join("results").join("provenance.json").is_file();
    let state = match (&session.handing, &session.handed) {
        (Some(handing), _) => match handing.job {
            HandoverJob::Pack { .. } => State::Done("packing".into()),
            HandoverJob::Recheck => State::Done("measuring again".into()),
        },
        (None, Some(Handed::Packed(..))) => State::Done("packed".into()),
        (None, Some(Handed::Rechecked(found))) if found.is_same() => State::Done(found.summary()),
        (None, Some(Handed::Rechecked(found))) => State::Person(found.summary()),
        (None, Some(Handed::Failed(why))) => State::Person(why.clone()),
        (None, Some(Handed::Stopped)) => State::Done("stopped".into()),
        (None, None) if is_measured => State::Done("measured; pack it, or recheck it".into()),
        (None, None) => return Vec::new(),
    };
    vec![Line::new("handover", "Hand-over", state)]
}

pub(super) fn open(ui: &mut Ui, session: &Session, _: &Line, commands: &mut Commands) {
    if let Some(handing) = &session.handing {
        ui.label(handing.how_far());
        if ui.button("Stop").clicked() {
            commands.push(Command::StopHandover);
        }
        return;
    }
    if let Some(text) = fields::text(ui, "Archive, from the dossier's folder", &session.view.archive) {
        commands.push(Command::Archive(text));
    }
    ui.label(format!("It will be {}.", archive(session).display()));
    let jobs = [
        ("Pack, footage by its hash", HandoverJob::Pack { with_footage: false }),
        ("Pack with the footage", HandoverJob::Pack { with_footage: true }),
        ("Recheck: measure again and compare", HandoverJob::Recheck),
    ];
    for (name, job) in jobs {
        if ui.button(name).clicked() {
            commands.push(Command::HandOver(job));
        }
    }
    evidence(ui, session);
}

/// What the last recheck found.
fn evidence(ui: &mut Ui, session: &Session) {
    let Some(Handed::Rechecked(found)) = &session.handed else { return };
    ui.separator();
    ui.label(RichText::new("The last recheck").strong());
    for line in found.to_string().lines().take(MOST_LISTED) {
        ui.label(line.trim());
    }
}
