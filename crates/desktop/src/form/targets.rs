//! Targets of each camera: found in a frame and accepted, or placed by hand; each with its body and plane offset.

use super::{Line, State, fields};
use crate::command::{Command, Commands};
use crate::edits::{inline, place, remove, set};
use crate::session::{Purpose, Session, TargetRef};
use eframe::egui::Ui;
use filmgauge_dossier::NamedSpot;
use filmgauge_dossier::document::TargetEntry;
use filmgauge_quantities::TargetKind;

const KINDS: [(TargetKind, &str); 5] = [
    (TargetKind::Quadrant, "quadrant"),
    (TargetKind::Disc, "disc"),
    (TargetKind::Ring, "ring"),
    (TargetKind::Cross, "cross"),
    (TargetKind::Patch, "patch of natural texture"),
];

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let line = |index: usize| {
        let camera = &session.document().camera[index].id;
        let known = |body: &str| session.document().body.iter().any(|entry| entry.id == body);
        let lost = session.targets_of(camera).find(|(_, target)| !known(&target.body));
        let state = match (session.targets_of(camera).count(), lost) {
            (0, _) => State::Empty("find targets in a frame, or place them by hand".into()),
            (_, Some((_, target))) => {
                State::Person(format!("{} is on body \"{}\", which does not exist", target.id, target.body))
            }
            (n, None) => State::Done(format!("{n} targets")),
        };
        Line::of_camera(session, index, "Targets", state)
    };
    (0..session.document().camera.len()).map(line).collect()
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    let camera = session.document().camera[line.index].id.clone();
    let bodies: Vec<&str> = session.document().body.iter().map(|body| body.id.as_str()).collect();
    if bodies.is_empty() {
        ui.label("Add a body first: every target belongs to one.");
        return;
    }
    if let Some(body) = fields::name(ui, "New targets are on body", session.body(), &bodies) {
        commands.push(Command::OnBody(body));
    }
    let (offset_m, u_m) = session.view.offset_m;
    if let Some(offset_m) = fields::number(ui, "New targets lie in front of the board, m", offset_m) {
        commands.push(Command::Offset(Some(offset_m), u_m));
    }
    if let Some(u_m) = fields::number(ui, "Standard uncertainty of that, m", Some(u_m)) {
        commands.push(Command::Offset(offset_m, u_m));
    }
    finding(ui, session, &camera, commands);
    by_hand(ui, session, commands);
    ui.separator();
    for (index, target) in session.targets_of(&camera) {
        let chosen = session.view.target.as_ref();
        let is_chosen = chosen.is_some_and(|it| it.camera == camera && it.target == target.id);
        let words = format!("{}, {} on {}", target.id, target.kind.word(), target.body);
        if ui.selectable_label(is_chosen, words).clicked() {
            let it = TargetRef { camera: camera.clone(), target: target.id.clone() };
            commands.push(Command::Choose(if is_chosen { None } else { Some(it) }));
        }
        if is_chosen {
            ui.indent(index, |ui| details(ui, session, (index, target), &bodies, commands));
        }
    }
}

/// Targets found in the frame that is seen.
fn finding(ui: &mut Ui, session: &Session, camera: &str, commands: &mut Commands) {
    let layout = session.view.layout.as_ref().map_or_else(String::new, |path| path.display().to_string());
    if let Some(path) = fields::text(ui, "Layout file that names them, if any", &layout) {
        commands.push(Command::Layout(path));
    }
    if session.spotting.is_some() {
        ui.label("Looking for targets …");
    } else if ui.button("Find targets in this frame").clicked() {
        commands.push(Command::Spot);
    }
    let Some(found) = session.found.as_ref().filter(|found| found.camera == camera) else { return };
    let on = session.body().unwrap_or_default();
    ui.label(format!(
        "{} found in frame {}. Press one in the film to take it for body {on}; press with the other button to leave it out.",
        found.spots.len(),
        found.frame
    ));
    ui.horizontal_wrapped(|ui| {
        if ui.button("Take all").clicked() {
            commands.push(Command::AcceptAllFound);
        }
        if ui.button("Leave the rest out").clicked() {
            commands.push(Command::RejectFound(None));
        }
    });
    for (n, NamedSpot { spot, id }) in found.spots.iter().enumerate() {
        ui.horizontal_wrapped(|ui| {
            let (x, y) = (spot.centre.x, spot.centre.y);
            let seems = id.as_ref().map_or_else(String::new, |id| format!(", seems to be {id}"));
            let kind = spot.kind.word();
            ui.label(format!("{} {kind} at {x:.0}, {y:.0}, score {:.2}{seems}", n + 1, spot.score));
            if ui.button(format!("Take {}", n + 1)).clicked() {
                commands.push(Command::AcceptFound(n));
            }
            if ui.button(format!("Leave {} out", n + 1)).clicked() {
                commands.push(Command::RejectFound(Some(n)));
            }
        });
    }
}

fn by_hand(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    if let Some(kind) = fields::choice(ui, "Kind placed by hand", Some(session.view.kind), &KINDS) {
        commands.push(Command::Kind(kind));
    }
    if let Some(radius) = fields::number(ui, "Radius placed by hand, px", Some(session.view.radius_px)) {
        commands.push(Command::Radius(radius));
    }
    if ui.button("Place a target by hand").clicked() {
        commands.push(Command::Place(Purpose::Target));
    }
}

fn details(
    ui: &mut Ui,
    session: &Session,
    (index, target): (usize, &TargetEntry),
    bodies: &[&str],
    commands: &mut Commands,
) {
    let of = |what: &str| format!("{what} of target {}", target.id);
    let numbers = [
        ("plane_offset_m", "In front of the board, m", target.plane_offset_m),
        (
            "plane_offset_uncertainty_m",
            "Standard uncertainty of it, m",
            Some(target.plane_offset_uncertainty_m),
        ),
        ("radius_px", "Radius, px", Some(target.radius_px)),
    ];
    for (key, label, value) in numbers {
        if let Some(number) = fields::number(ui, label, value) {
            commands.edit(of(&label.to_lowercase()), vec![set("target", index, key, number)]);
        }
    }
    if let Some(body) = fields::name(ui, "On body", Some(&target.body), bodies) {
        commands.edit(of("body"), vec![set("target", index, "body", body)]);
    }
    if let Some(kind) = fields::choice(ui, "Kind", Some(target.kind), &KINDS) {
        commands.edit(of("kind"), vec![set("target", index, "kind", kind.word())]);
    }
    ui.horizontal_wrapped(|ui| {
        ui.label(format!("Starts in frame {}", target.start.frame));
        let here = session.frame();
        let seen = session.place_of(&target.camera, &target.id, here).filter(|_| here != target.start.frame);
        if let Some(px) = seen.filter(|_| ui.button(format!("Start in frame {here}")).clicked()) {
            let start = inline(vec![("frame", i64::from(here).into()), ("px", place(px))]);
            commands.edit(of("start"), vec![set("target", index, "start", start)]);
        }
        if ui.button("Mark by hand").clicked() {
            commands.push(Command::Place(Purpose::Mark));
        }
        if ui.button("Take it out").clicked() {
            commands.edit(format!("target {} taken out", target.id), vec![remove("target", index)]);
        }
    });
}
