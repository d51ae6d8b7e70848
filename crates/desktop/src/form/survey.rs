//! Surveyed points of each camera: points of the plane or in space, in place of a board, each shown in the film.

use super::{Line, State, fields};
use crate::command::{Command, Commands};
use crate::edits::{clear, inline, list, point_in_plane, point_in_space, set};
use crate::session::{Pending, Purpose, Session};
use eframe::egui::Ui;
use filmgauge_daybook::Value;
use filmgauge_dossier::document::CameraEntry;

/// Fewest points, of a plane or in space.
const FEWEST: usize = 4;

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let cameras = session.document().camera.iter().enumerate();
    cameras.map(|(n, camera)| Line::of_camera(session, n, "Surveyed points", state(camera))).collect()
}

fn state(camera: &CameraEntry) -> State {
    let told = |n: usize, what: &str| {
        if n < FEWEST {
            State::Empty(format!("{n} {what}; show at least {FEWEST}"))
        } else {
            State::Done(format!("{n} {what}"))
        }
    };
    match (&camera.plane, &camera.pose) {
        (Some(plane), _) => told(plane.points.len(), "points of the plane"),
        (None, Some(pose)) => told(pose.points.len(), "points in space"),
        (None, None) if camera.board.is_some() => State::Done("none; the board gives the scale".into()),
        (None, None) => State::Done("none; may stand in place of a board".into()),
    }
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    let camera = &session.document().camera[line.index];
    let begun = Of { camera, index: line.index };
    match (&camera.plane, &camera.pose) {
        (Some(_), _) => plane(ui, &begun, commands),
        (None, Some(_)) => pose(ui, &begun, commands),
        (None, None) if camera.board.is_some() => {
            ui.label("The scale rests on the board. Take the board out to use surveyed points in its place.");
            if ui.button("Take the board out").clicked() {
                commands.edit(
                    format!("board of {} taken out", camera.id),
                    vec![clear("camera", line.index, "board")],
                );
            }
        }
        (None, None) => first(ui, &begun, commands),
    }
}

/// The camera that the points belong to.
struct Of<'a> {
    camera: &'a CameraEntry,
    index: usize,
}

/// How well the survey is known comes first: points without it would have no weight.
fn first(ui: &mut Ui, of: &Of<'_>, commands: &mut Commands) {
    ui.label("Points of the plane of motion, or points in space together with a lens file. Begin with the survey's doubt.");
    let begin = |key: &str, table: Vec<(&str, Value)>| {
        (format!("surveyed points of {}", of.camera.id), vec![set("camera", of.index, key, inline(table))])
    };
    if let Some(u_m) = fields::number(ui, "Points of the plane: standard uncertainty of the survey, m", None)
    {
        let (act, edits) = begin("plane", vec![("points", list(Vec::new())), ("uncertainty_m", u_m.into())]);
        commands.edit(act, edits);
    }
    if let Some(u_m) = fields::number(ui, "Points in space: standard uncertainty of the survey, m", None) {
        let table =
            vec![("points", list(Vec::new())), ("uncertainty_m", u_m.into()), ("plane_at_m", 0.0.into())];
        let (act, edits) = begin("pose", table);
        commands.edit(act, edits);
    }
}

fn plane(ui: &mut Ui, of: &Of<'_>, commands: &mut Commands) {
    let Some(plane) = &of.camera.plane else { return };
    numbers(
        ui,
        of,
        &[
            ("plane.uncertainty_m", "Standard uncertainty of the survey, m", Some(plane.uncertainty_m)),
            (
                "plane.uncertainty_px",
                "Standard uncertainty of reading a point, px",
                Some(plane.uncertainty_px),
            ),
            ("plane.distance_m", "Distance from the camera, m", plane.distance_m),
            (
                "plane.distance_uncertainty_m",
                "Standard uncertainty of the distance, m",
                Some(plane.distance_uncertainty_m),
            ),
        ],
        commands,
    );
    ui.label("A lens file gives the distance by itself.");
    let points: Vec<(&str, Value)> =
        plane.points.iter().map(|point| (point.name.as_str(), point_in_plane(point))).collect();
    listed(ui, of, "plane", &points, commands);
    new_point(ui, "New point: name, along the path and up, m", 2, commands);
}

fn pose(ui: &mut Ui, of: &Of<'_>, commands: &mut Commands) {
    let Some(pose) = &of.camera.pose else { return };
    numbers(
        ui,
        of,
        &[
            ("pose.uncertainty_m", "Standard uncertainty of the survey, m", Some(pose.uncertainty_m)),
            ("pose.uncertainty_px", "Standard uncertainty of reading a point, px", Some(pose.uncertainty_px)),
            ("pose.plane_at_m", "The plane of motion lies at, m", Some(pose.plane_at_m)),
        ],
        commands,
    );
    if of.camera.lens.is_none() {
        ui.label("A pose needs the camera's lens file: name it in the camera's line.");
    }
    let points: Vec<(&str, Value)> =
        pose.points.iter().map(|point| (point.name.as_str(), point_in_space(point))).collect();
    listed(ui, of, "pose", &points, commands);
    new_point(ui, "New point: name, along the path, to its left and up, m", 3, commands);
}

fn numbers(ui: &mut Ui, of: &Of<'_>, numbers: &[(&str, &str, Option<f64>)], commands: &mut Commands) {
    for (key, label, value) in numbers {
        if let Some(number) = fields::number(ui, label, *value) {
            let act = format!("surveyed points of {}", of.camera.id);
            commands.edit(act, vec![set("camera", of.index, key, number)]);
        }
    }
}

/// The points there are, each with a way out.
fn listed(ui: &mut Ui, of: &Of<'_>, key: &str, points: &[(&str, Value)], commands: &mut Commands) {
    for (n, (name, value)) in points.iter().enumerate() {
        ui.horizontal_wrapped(|ui| {
            ui.label(value.to_string().trim().trim_matches(['{', '}']).trim().to_owned());
            if ui.button(format!("Take {name} out")).clicked() {
                let others = points.iter().enumerate().filter(|(other, _)| *other != n);
                let others = list(others.map(|(_, (_, value))| value.clone()).collect());
                let edit = set("camera", of.index, &format!("{key}.points"), others);
                commands.edit(format!("surveyed point {name} taken out"), vec![edit]);
            }
        });
    }
    if ui.button("Take all points out").clicked() {
        let edit = clear("camera", of.index, key);
        commands.edit(format!("surveyed points of {} taken out", of.camera.id), vec![edit]);
    }
}

/// Name and coordinates in one go, then the place in the film.
fn new_point(ui: &mut Ui, label: &str, n_numbers: usize, commands: &mut Commands) {
    let Some(text) = fields::text(ui, label, "") else { return };
    match named_numbers(&text, n_numbers) {
        Some((name, m)) => {
            commands.push(Command::Pending(Pending { name, numbers: m }));
            commands.push(Command::Place(Purpose::SurveyPoint));
        }
        None => commands.push(Command::Say(format!(
            "Write a name and {n_numbers} numbers, such as \"P1 {}\".",
            ["0.5"; 3][..n_numbers].join(" ")
        ))),
    }
}

/// A name, then so many numbers, parted by spaces or semicolons.
pub(super) fn named_numbers(text: &str, n_numbers: usize) -> Option<(String, Vec<f64>)> {
    let mut words = text.split([' ', ';', '\t']).filter(|word| !word.is_empty());
    let name = words.next()?.trim_end_matches(',').to_owned();
    let numbers = words.map(|word| word.trim_end_matches(',').replace(',', ".").parse::<f64>());
    let numbers: Vec<f64> = numbers.collect::<Result<_, _>>().ok()?;
    let usable = numbers.len() == n_numbers && numbers.iter().all(|number| number.is_finite());
    usable.then_some((name, numbers))
}

#[cfg(test)]
mod tests {
    use super::named_numbers;

    #[test]
    fn a_name_and_its_numbers() {
        assert_eq!(named_numbers("P1 0,5; -2", 2), Some(("P1".into(), vec![0.5, -2.0])));
        assert_eq!(named_numbers("P1, 0.5, 2", 2), Some(("P1".into(), vec![0.5, 2.0])));
        assert_eq!(named_numbers("P1 0.5", 2), None);
        assert_eq!(named_numbers("0.5 x 2", 2), None);
    }
}
