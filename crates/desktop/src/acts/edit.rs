//! Acts on the dossier as a whole: undo, redo, saving, measuring, marked films, going through the form.

use super::Act;
use crate::command::{Command, Figure, Shown};
use crate::form;
use crate::session::Session;
use crate::work::{HandoverJob, LensJob};
use eframe::egui::{Key, Modifiers};

pub(super) fn acts(session: &Session) -> Vec<Act> {
    let mut acts = Vec::new();
    if let Some(act) = session.workbook.next_undo() {
        acts.push(Act::new(format!("Undo: {act}"), Command::Undo).key(Modifiers::COMMAND, Key::Z));
        acts.push(Act::new("Undo everything", Command::UndoAll));
    }
    if let Some(act) = session.workbook.next_redo() {
        let shifted = Modifiers::COMMAND | Modifiers::SHIFT;
        acts.push(Act::new(format!("Do again: {act}"), Command::Redo).key(shifted, Key::Z));
        acts.push(Act::new("Do everything again", Command::RedoAll));
    }
    acts.push(Act::new("Save now", Command::Save).key(Modifiers::COMMAND, Key::S));
    if session.measuring.is_some() {
        acts.push(Act::new("Stop measuring", Command::Stop).key(Modifiers::SHIFT, Key::F5));
    } else {
        acts.push(Act::new("Measure", Command::Measure).key(Modifiers::NONE, Key::F5));
    }
    if session.calibrating.is_some() {
        acts.push(Act::new("Stop calibrating the lens", Command::StopCalibrating));
    } else {
        acts.push(Act::new(
            "Calibrate the lens from pictures of a board",
            Command::Calibrate(LensJob::Board),
        ));
        acts.push(Act::new("Calibrate the lens from straight edges", Command::Calibrate(LensJob::Edges)));
    }
    if session.marking.is_some() {
        acts.push(
            Act::new("Stop writing the marked film", Command::StopMarking).key(Modifiers::SHIFT, Key::F7),
        );
    } else {
        let name = format!("Write the marked film of camera {}", session.camera_id());
        acts.push(Act::new(name, Command::MarkedFilm).key(Modifiers::NONE, Key::F7));
    }
    if session.measured.is_some() {
        acts.push(Act::new("Open the sheet", Command::Show(Shown::Sheet)).key(Modifiers::NONE, Key::F6));
        let paper = Act::new("Open the sheet on paper (PDF)", Command::Show(Shown::Paper));
        acts.push(paper.key(Modifiers::SHIFT, Key::F6));
        acts.push(Act::new("Open the tables as a workbook (XLSX)", Command::Show(Shown::Workbook)));
        acts.push(Act::new("Open the folder of results", Command::Show(Shown::Folder)));
        acts.push(Act::new("Write curves as SVG", Command::Export(Figure::Svg)));
        acts.push(Act::new("Write curves as PNG", Command::Export(Figure::Png)));
    }
    acts.extend(hand_over(session));
    acts.push(Act::new("Next line that needs something", Command::NextNeed).key(Modifiers::NONE, Key::F2));
    for line in form::lines(session) {
        acts.push(Act::new(format!("Go to line: {}", line.title), Command::Line(line.key)));
    }
    acts
}

/// Packing and proving what was measured.
fn hand_over(session: &Session) -> Vec<Act> {
    if session.handing.is_some() {
        let stop = Act::new("Stop packing or rechecking", Command::StopHandover);
        return vec![stop.key(Modifiers::SHIFT, Key::F9)];
    }
    let pack = |with_footage: bool| Command::HandOver(HandoverJob::Pack { with_footage });
    vec![
        Act::new(
            "Recheck: measure again and compare every results file",
            Command::HandOver(HandoverJob::Recheck),
        )
        .key(Modifiers::NONE, Key::F9),
        Act::new("Pack the test into an archive, footage by its hash", pack(false))
            .key(Modifiers::NONE, Key::F8),
        Act::new("Pack the test into an archive with its footage", pack(true)).key(Modifiers::SHIFT, Key::F8),
    ]
}
