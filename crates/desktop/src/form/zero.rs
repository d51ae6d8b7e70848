//! Time zero of each camera: by a flash, a frame, contact, or another camera.

use super::{Line, State, fields};
use crate::command::{Command, Commands};
use crate::edits::{clear, inline, set};
use crate::session::{Purpose, Session};
use eframe::egui::Ui;
use filmgauge_daybook::Value;
use filmgauge_dossier::document::ZeroEntry;

#[derive(Debug, Clone, Copy, PartialEq)]
enum By {
    Flash,
    Frame,
    Contact,
    Camera,
}

const WAYS: [(By, &str); 3] =
    [(By::Flash, "the flash"), (By::Frame, "a frame"), (By::Contact, "first contact, found in the film")];

fn by(zero: &ZeroEntry) -> By {
    match zero {
        ZeroEntry::Flash { .. } => By::Flash,
        ZeroEntry::Frame { .. } => By::Frame,
        ZeroEntry::Contact {} => By::Contact,
        ZeroEntry::Camera { .. } => By::Camera,
    }
}

fn told(zero: &ZeroEntry) -> String {
    match zero {
        ZeroEntry::Flash { region_px: None, .. } => "by the flash".into(),
        ZeroEntry::Flash { region_px: Some(_), .. } => "by the flash in its region".into(),
        ZeroEntry::Frame { frame, .. } => format!("frame {frame}"),
        ZeroEntry::Contact {} => "by first contact".into(),
        ZeroEntry::Camera { camera, .. } => format!("carried over from camera {camera}"),
    }
}

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let state = |zero: &Option<ZeroEntry>| match zero {
        None => State::Empty("say what marks it: flash, frame or contact".into()),
        Some(zero) => State::Done(told(zero)),
    };
    let cameras = session.document().camera.iter().enumerate();
    cameras.map(|(n, camera)| Line::of_camera(session, n, "Time zero", state(&camera.zero))).collect()
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    let camera = &session.document().camera[line.index];
    let act = format!("time zero of {}", camera.id);
    let put = |zero: Value| vec![set("camera", line.index, "zero", zero)];
    let here = f64::from(session.view.frames.get(&camera.id).copied().unwrap_or(0));
    let at_frame = |frame: f64| inline(vec![("by", "frame".into()), ("frame", frame.into())]);
    if let Some(way) = fields::choice(ui, "Marked by", camera.zero.as_ref().map(by), &WAYS) {
        let value = match way {
            By::Flash => inline(vec![("by", "flash".into())]),
            By::Frame => at_frame(here),
            By::Contact | By::Camera => inline(vec![("by", "contact".into())]),
        };
        commands.edit(act, put(value));
        return;
    }
    match &camera.zero {
        Some(ZeroEntry::Frame { frame, .. }) => {
            let moved = |frame: f64| vec![set("camera", line.index, "zero.frame", frame)];
            if let Some(frame) = fields::number(ui, "Frame", Some(*frame)) {
                commands.edit(act.clone(), moved(frame));
            }
            if here != *frame && ui.button(format!("Take frame {here}")).clicked() {
                commands.edit(act, moved(here));
            }
        }
        Some(ZeroEntry::Flash { region_px, .. }) => {
            if ui.button("Show where the flash is seen").clicked() {
                commands.push(Command::Place(Purpose::Flash));
            }
            if region_px.is_some() && ui.button("Use the whole picture").clicked() {
                commands.edit(act, vec![clear("camera", line.index, "zero.region_px")]);
            }
        }
        Some(ZeroEntry::Contact {} | ZeroEntry::Camera { .. }) | None => {}
    }
}
