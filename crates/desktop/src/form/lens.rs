//! Calibrating a camera's lens: from pictures of a board, or from edges in its film that are straight in truth.

use super::{drawing, fields};
use crate::command::{Command, Commands};
use crate::session::{Purpose, Session};
use crate::work::LensJob;
use eframe::egui::{RichText, Ui};
use filmgauge_report::lens_svg;

/// Fewest straight edges that tell a distortion.
const FEWEST_EDGES: usize = 3;

/// What belongs to the lens of a camera, within its line.
pub(super) fn open(ui: &mut Ui, session: &Session, index: usize, commands: &mut Commands) {
    let camera = &session.document().camera[index].id;
    if let Some(calibrating) = session.calibrating.as_ref().filter(|it| it.camera() == camera) {
        ui.label(format!("The lens is being calibrated: {}", calibrating.how_far()));
        if ui.button("Stop calibrating").clicked() {
            commands.push(Command::StopCalibrating);
        }
        return;
    }
    board(ui, session, commands);
    edges(ui, session, camera, commands);
    evidence(ui, session, camera);
}

fn board(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    ui.label(RichText::new("The lens from pictures of a chessboard, each tilted differently").strong());
    let mut wish = session.view.lens_board.clone();
    let entered = [
        (&mut wish.pictures, "Pictures of the board, with ; between"),
        (&mut wish.grid, "Inner corners of the board, as 9x6"),
        (&mut wish.pitch, "Side of a square with its unit, as 25mm"),
    ]
    .map(|(value, label)| fields::text(ui, label, value).map(|text| *value = text).is_some());
    if entered.contains(&true) {
        commands.push(Command::LensBoard(wish));
    }
    if session.view.lens_board.is_complete() {
        if ui.button("Calibrate from these pictures").clicked() {
            commands.push(Command::Calibrate(LensJob::Board));
        }
    } else {
        ui.label("Give all three; pictures from the dossier's folder, a pattern such as lens/*.png is one of them.");
    }
}

fn edges(ui: &mut Ui, session: &Session, camera: &str, commands: &mut Commands) {
    ui.label(RichText::new("Or from edges in the film that are straight in truth").strong());
    let shown = session.view.lens_edges.get(camera).cloned().unwrap_or_default();
    for (n, [from, to]) in shown.ends.iter().enumerate() {
        ui.horizontal_wrapped(|ui| {
            ui.label(format!(
                "edge {}: {:.1} {:.1} to {:.1} {:.1} px",
                n + 1,
                from[0],
                from[1],
                to[0],
                to[1]
            ));
            if ui.button(format!("Take edge {} out", n + 1)).clicked() {
                commands.push(Command::DropEdge(n));
            }
        });
    }
    if ui.button("Show both ends of a straight edge").clicked() {
        commands.push(Command::Place(Purpose::StraightEdge));
    }
    if let Some(text) = fields::text(ui, "Straight edge by its ends: x y x y, px", "") {
        match ends(&text) {
            Some(ends) => commands.push(Command::StraightEdge(ends)),
            None => commands.push(Command::Say("Write four numbers, such as \"20 31 1250 44\".".into())),
        }
    }
    if shown.ends.len() < FEWEST_EDGES {
        ui.label(format!(
            "Show {FEWEST_EDGES} or more, far from the middle of the picture and in several directions."
        ));
    } else if ui.button("Calibrate from these edges").clicked() {
        commands.push(Command::Calibrate(LensJob::Edges));
    }
}

/// Four numbers, parted by spaces, commas or semicolons.
fn ends(text: &str) -> Option<[[f64; 2]; 2]> {
    let numbers: Vec<f64> = text
        .split([' ', ',', ';', '\t'])
        .filter(|word| !word.is_empty())
        .map(|word| word.parse::<f64>().ok().filter(|number| number.is_finite()))
        .collect::<Option<_>>()?;
    let &[x, y, to_x, to_y] = &numbers[..] else { return None };
    Some([[x, y], [to_x, to_y]])
}

/// What the last calibration came to.
fn evidence(ui: &mut Ui, session: &Session, camera: &str) {
    let Some(calibrated) = session.calibrated.as_ref().filter(|it| it.camera == camera) else { return };
    ui.separator();
    ui.label(RichText::new(format!("Calibrated: {}", calibrated.file)).strong());
    for line in calibrated.calibration.said() {
        ui.label(line.split_whitespace().collect::<Vec<_>>().join(" "));
    }
    ui.label("± is the half-width of the 95 % interval.");
    for notice in calibrated.calibration.notices() {
        ui.label(RichText::new(notice).color(ui.visuals().warn_fg_color));
    }
    match lens_svg(&calibrated.calibration.picture()) {
        Ok(svg) => {
            let told = "What each point of the calibration is off by, and the field in which the lens holds";
            drawing::show(ui, "lens", &svg, told);
        }
        Err(error) => {
            ui.label(error.to_string());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::ends;

    #[test]
    fn four_numbers_are_two_ends() {
        assert_eq!(ends("20 31; 1250, 44.5"), Some([[20.0, 31.0], [1250.0, 44.5]]));
        for text in ["", "1 2 3", "1 2 3 4 5", "1 2 3 x", "1 2 3 nan"] {
            assert_eq!(ends(text), None, "{text}");
        }
    }
}
