//! The reference board of each camera: its length, its ends in the picture, its distance.

use super::{Line, State, fields};
use crate::command::{Command, Commands};
use crate::edits::set;
use crate::session::{Purpose, Session};
use eframe::egui::Ui;
use filmgauge_dossier::document::BoardEntry;
use filmgauge_quantities::COVERAGE_95;

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let state = |board: &Option<BoardEntry>| match board {
        None => State::Empty("give its length, then show both ends".into()),
        Some(board) => {
            let [dx, dy] = [0, 1].map(|n: usize| board.to_px[n] - board.from_px[n]);
            State::Done(format!(
                "{} m ± {:.2} mm over {:.1} px",
                board.length_m,
                1e3 * COVERAGE_95 * board.uncertainty_m,
                dx.hypot(dy)
            ))
        }
    };
    let cameras = session.document().camera.iter().enumerate();
    cameras.map(|(n, camera)| Line::of_camera(session, n, "Board", state(&camera.board))).collect()
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    let camera = &session.document().camera[line.index];
    let Some(board) = &camera.board else { return first(ui, session, commands) };
    let act = format!("board of {}", camera.id);
    let numbers = [
        ("length_m", "Length, m", Some(board.length_m)),
        ("uncertainty_m", "Standard uncertainty of the length, m", Some(board.uncertainty_m)),
        ("uncertainty_px", "Standard uncertainty of reading an end, px", Some(board.uncertainty_px)),
        ("distance_m", "Distance from the camera, m", board.distance_m),
        (
            "distance_uncertainty_m",
            "Standard uncertainty of the distance, m",
            Some(board.distance_uncertainty_m),
        ),
    ];
    for (key, label, value) in numbers {
        if let Some(number) = fields::number(ui, label, value) {
            commands.edit(act.clone(), vec![set("camera", line.index, &format!("board.{key}"), number)]);
        }
    }
    ui.label("The distance is needed as soon as a target lies before or behind the board's plane.");
    if ui.button("Show both ends anew").clicked() {
        commands.push(Command::Place(Purpose::Board));
    }
}

/// A board that is not there yet: its length first, since ends without a length give no scale.
fn first(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    let [mut length, mut uncertainty] = session.view.board_m;
    if let Some(number) = fields::number(ui, "Length, m", length) {
        length = Some(number);
    }
    if let Some(number) = fields::number(ui, "Standard uncertainty of the length, m", uncertainty) {
        uncertainty = Some(number);
    }
    if [length, uncertainty] != session.view.board_m {
        commands.push(Command::BoardLength([length, uncertainty]));
    }
    if length.is_some() && uncertainty.is_some() {
        if ui.button("Show both ends in the film").clicked() {
            commands.push(Command::Place(Purpose::Board));
        }
    } else {
        ui.label("Give both, then the ends can be shown in the film.");
    }
}
