//! Bodies: what moves as one rigid thing, its part in the test, mass and c.g.

use super::{Line, State, fields};
use crate::command::{Command, Commands};
use crate::edits::{append, clear, inline, place, remove, set};
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_dossier::document::{BodyEntry, Role};

const ROLES: [(Role, &str); 3] = [
    (Role::Striking, "the vehicle that runs up"),
    (Role::Struck, "the vehicle that is struck"),
    (Role::Ground, "ground: does not move"),
];

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let bodies = &session.document().body;
    let whole = if bodies.is_empty() {
        State::Empty("name the vehicle that runs up and the one that is struck".into())
    } else {
        State::Done(bodies.iter().map(|body| body.id.as_str()).collect::<Vec<_>>().join(", "))
    };
    let mut lines = vec![Line::new("bodies", "Bodies", whole)];
    lines.extend(bodies.iter().enumerate().map(|(n, body)| {
        Line::new(format!("body {}", body.id), format!("Body {}", body.id), state(session, body)).with(n)
    }));
    lines
}

fn state(session: &Session, body: &BodyEntry) -> State {
    let n = session.document().target.iter().filter(|target| target.body == body.id).count();
    let mass = body.mass_kg.map_or_else(String::new, |mass| format!(", {mass} kg"));
    let role = ROLES.iter().find(|(role, _)| Some(*role) == body.role);
    let role = role.map_or_else(String::new, |(_, word)| format!(", {word}"));
    // Another point of a pitching body has another speed: whoever reads the figures must know which one they are of.
    let is_still = body.role == Some(Role::Ground);
    let point = if body.cg_from.is_some() || is_still {
        ""
    } else {
        "; told by the mean of its targets, no c.g. given"
    };
    match n {
        0 => State::Empty("has no target yet".into()),
        1 => State::Done(format!("1 target{mass}{role}{point}")),
        n => State::Done(format!("{n} targets{mass}{role}{point}")),
    }
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    if line.key == "bodies" {
        return add(ui, session, commands);
    }
    let body = &session.document().body[line.index];
    let of = |what: &str| format!("{what} of {}", body.id);
    if let Some(role) = fields::choice(ui, "Part in the test", body.role, &ROLES) {
        let word = match role {
            Role::Striking => "striking",
            Role::Struck => "struck",
            Role::Ground => "ground",
        };
        commands.edit(of("part"), vec![set("body", line.index, "role", word)]);
    }
    if let Some(mass) = fields::number(ui, "Mass, kg", body.mass_kg) {
        commands.edit(of("mass"), vec![set("body", line.index, "mass_kg", mass)]);
    }
    centre(ui, session, line.index, commands);
    if ui.button("Place its targets").clicked() {
        commands.push(Command::OnBody(body.id.clone()));
        commands.push(Command::Line(format!("Targets {}", session.camera_id())));
    }
    let in_use = session.document().target.iter().any(|target| target.body == body.id);
    if !in_use && ui.button("Take this body out").clicked() {
        commands.edit(format!("body {} taken out", body.id), vec![remove("body", line.index)]);
    }
}

fn add(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    if let Some(id) = fields::text(ui, "Add a body", "") {
        let id = id.trim().to_owned();
        if session.document().body.iter().any(|body| body.id == id) {
            commands.push(Command::Say(format!("There is a body {id} already.")));
        } else {
            commands.edit(format!("body {id}"), vec![append("body", vec![("id", id.clone().into())])]);
            commands.push(Command::OnBody(id));
        }
    }
    ui.label("A short name, such as car, truck or ground.");
}

/// The c.g. as a step from a target.
fn centre(ui: &mut Ui, session: &Session, index: usize, commands: &mut Commands) {
    let body = &session.document().body[index];
    let act = format!("c.g. of {}", body.id);
    let own: Vec<&str> = session
        .document()
        .target
        .iter()
        .filter(|target| target.body == body.id)
        .map(|target| target.id.as_str())
        .collect();
    let from = body.cg_from.as_ref();
    let put = |target: &str, m: [f64; 2]| {
        vec![set("body", index, "cg_from", inline(vec![("target", target.into()), ("m", place(m))]))]
    };
    let old_m = from.map_or([0.0, 0.0], |from| from.m);
    if let Some(target) = fields::name(ui, "C.g. from target", from.map(|from| from.target.as_str()), &own) {
        commands.edit(act, put(&target, old_m));
        return;
    }
    let Some(from) = from else {
        ui.label("Without it the mean place of the body's targets stands in.");
        return;
    };
    if let Some(forward) = fields::number(ui, "Forward of it, m", Some(old_m[0])) {
        commands.edit(act.clone(), put(&from.target, [forward, old_m[1]]));
    }
    if let Some(up) = fields::number(ui, "Above it, m", Some(old_m[1])) {
        commands.edit(act.clone(), put(&from.target, [old_m[0], up]));
    }
    if ui.button("No c.g.").clicked() {
        commands.edit(act, vec![clear("body", index, "cg_from")]);
    }
}
