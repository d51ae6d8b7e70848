//! Handing a test over, and the proof that its results follow from its files.

use crate::session::Session;
use crate::work::{Handed, Handing, HandoverJob};
use eframe::egui::Context;
use std::path::PathBuf;

/// Where the archive is to lie: as typed, from the dossier's folder, or beside that folder under the test's name.
pub(crate) fn archive(session: &Session) -> PathBuf {
    let root = &session.workbook.dossier().root;
    let root = std::path::absolute(root).unwrap_or_else(|_| root.clone());
    let typed = session.view.archive.trim();
    if !typed.is_empty() {
        return root.join(typed);
    }
    let name = format!("{}.zip", filmgauge_shelf::file_name(&session.document().test.id));
    root.parent().unwrap_or(&root).join(name)
}

pub(super) fn begin(session: &mut Session, ctx: &Context, job: HandoverJob) -> Option<String> {
    if session.handing.is_some() {
        return Some("A test is being packed or rechecked already.".to_owned());
    }
    if session.measuring.is_some() {
        return Some("It is being measured; pack or recheck what comes of it afterwards.".to_owned());
    }
    if session.workbook.read_only().is_none()
        && let Err(error) = session.workbook.save()
    {
        // What is packed and proved are the files.
        return Some(error.to_string());
    }
    let archive = archive(session);
    if archive.is_dir() {
        return Some(format!("{} is a folder; name the archive, such as test.zip.", archive.display()));
    }
    let (root, file) =
        (session.workbook.dossier().root.clone(), session.workbook.dossier().file_name.clone());
    let ctx = ctx.clone();
    session.handed = None;
    let dossier = root.join(file);
    session.handing = Some(Handing::begin(job, root, dossier, archive, move || ctx.request_repaint()));
    Some(match job {
        HandoverJob::Pack { .. } => "Packing. The desk can be used meanwhile.".to_owned(),
        HandoverJob::Recheck => "Measuring again to compare. The desk can be used meanwhile.".to_owned(),
    })
}

pub(super) fn stop(session: &Session) -> Option<String> {
    session.handing.as_ref()?.stop();
    Some("Stopping …".to_owned())
}

/// Takes what came; a sentence to say, if any.
pub(super) fn tend(session: &mut Session) -> Option<String> {
    let handing = session.handing.as_mut()?;
    let (job, outcome) = (handing.job, handing.outcome()?);
    session.handing = None;
    let said = match (&outcome, job) {
        (Handed::Packed(archive, [files, 0]), _) => {
            format!("Packed {files} files into {}.", archive.display())
        }
        (Handed::Packed(archive, [files, by_hash]), _) => {
            format!("Packed {files} files into {}, {by_hash} of them by their hash alone.", archive.display())
        }
        (Handed::Rechecked(recheck), _) => recheck.summary(),
        (Handed::Stopped, HandoverJob::Pack { .. }) => {
            "Packing was stopped; no archive was written.".to_owned()
        }
        (Handed::Stopped, HandoverJob::Recheck) => "The recheck was stopped; it says nothing.".to_owned(),
        (Handed::Failed(why), HandoverJob::Pack { .. }) => format!("No archive was written: {why}"),
        (Handed::Failed(why), HandoverJob::Recheck) => format!("It could not be rechecked: {why}"),
    };
    session.handed = Some(outcome);
    Some(said)
}
