//! Crush profiles of six depths, measured on the vehicle after the test or told by six crush lines.

use super::survey::named_numbers;
use super::{Line, State, fields};
use crate::command::{Command, Commands};
use crate::edits::{append, inline, list, remove, set};
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_daybook::Value;
use filmgauge_dossier::document::ProfileEntry;

/// What is typed for a new profile, and how many numbers that is.
const NEW: &str = "New profile: name, damage width, then C1 to C6, m";
const N_NEW: usize = 7;
const SHAPE: &str = "Write a name and seven numbers, such as \"front 1.42 0.31 0.36 0.38 0.37 0.33 0.29\".";
const DEPTHS: &str = "C1 to C6 from the undeformed line, m";

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let profiles = &session.document().crush_profile;
    let whole = match profiles.len() {
        0 => State::Done("none; optional".into()),
        n => State::Done(format!("{n}")),
    };
    let mut lines = vec![Line::new("profile", "Crush profiles", whole)];
    lines.extend(profiles.iter().enumerate().map(|(n, entry)| {
        let (text, is_whole) = match (&entry.depths_m, &entry.lines) {
            (Some(_), None) => (format!("{} over {} m, by hand", entry.body, entry.width_m), true),
            (None, Some(_)) => (format!("{} over {} m, by six crush lines", entry.body, entry.width_m), true),
            _ => ("give its six depths".to_owned(), false),
        };
        let state = if is_whole { State::Done(text) } else { State::Person(text) };
        Line::new(format!("profile {}", entry.id), format!("Profile {}", entry.id), state).with(n)
    }));
    lines
}

pub(super) fn open(ui: &mut Ui, session: &Session, line: &Line, commands: &mut Commands) {
    if line.key == "profile" {
        return add(ui, session, commands);
    }
    let entry = &session.document().crush_profile[line.index];
    let act = format!("crush profile {}", entry.id);
    let mut put = |key: &str, value: Value| {
        commands.edit(act.clone(), vec![set("crush_profile", line.index, key, value)]);
    };
    let bodies: Vec<&str> = session.document().body.iter().map(|body| body.id.as_str()).collect();
    if let Some(body) = fields::name(ui, "Body", Some(&entry.body), &bodies) {
        put("body", body.into());
    }
    for (key, label, value) in numbers(entry) {
        if let Some(number) = fields::number(ui, label, Some(value)) {
            put(key, number.into());
        }
    }
    let stiffness = entry.stiffness;
    let (mut a, mut b, mut u) =
        stiffness.map_or((0.0, 0.0, 0.0), |it| (it.a_n_per_m, it.b_n_per_m2, it.relative_uncertainty));
    let fields_of_it =
        [("Stiffness A, N/m", &mut a), ("Stiffness B, N/m²", &mut b), ("± of both, as a share", &mut u)];
    let mut is_changed = false;
    for (label, value) in fields_of_it {
        if let Some(number) = fields::number(ui, label, stiffness.map(|_| *value)) {
            (*value, is_changed) = (number, true);
        }
    }
    if is_changed {
        let keys = [("a_n_per_m", a), ("b_n_per_m2", b), ("relative_uncertainty", u)];
        put("stiffness", inline(keys.map(|(key, value)| (key, value.into())).into()));
    }
    depths(ui, entry, line.index, commands);
    if ui.button("Take this profile out").clicked() {
        let act = format!("crush profile {} taken out", entry.id);
        commands.edit(act, vec![remove("crush_profile", line.index)]);
    }
}

/// Keys of single numbers, their labels and values.
fn numbers(entry: &ProfileEntry) -> [(&'static str, &'static str, f64); 5] {
    [
        ("width_m", "Damage width from C1 to C6, m", entry.width_m),
        ("width_uncertainty_m", "± of it (standard), m", entry.width_uncertainty_m),
        ("uncertainty_m", "± of each depth by hand, m", entry.uncertainty_m),
        ("reference_uncertainty_m", "± of the undeformed line, m", entry.reference_uncertainty_m),
        ("force_angle_deg", "Force from the face's normal, °", entry.force_angle_deg),
    ]
}

/// The six depths by hand.
fn depths(ui: &mut Ui, entry: &ProfileEntry, index: usize, commands: &mut Commands) {
    let Some(depths_m) = entry.depths_m else { return };
    let shown: Vec<String> = depths_m.iter().map(f64::to_string).collect();
    let Some(text) = fields::text(ui, DEPTHS, &shown.join(" ")) else { return };
    match named_numbers(&format!("depths {text}"), 6) {
        Some((_, numbers)) => {
            let act = format!("depths of crush profile {}", entry.id);
            commands.edit(act, vec![set("crush_profile", index, "depths_m", list_of(&numbers))]);
        }
        None => commands
            .push(Command::Say("Write six numbers, such as \"0.31 0.36 0.38 0.37 0.33 0.29\".".into())),
    }
}

fn list_of(numbers: &[f64]) -> Value {
    list(numbers.iter().map(|&number| number.into()).collect())
}

/// A profile of the body of the chosen target, or of the first.
fn add(ui: &mut Ui, session: &Session, commands: &mut Commands) {
    ui.label("Six depths at equal distances, C1 at the driver's left end; crush lines can take their place in the dossier.");
    let of_target = session.chosen().map(|(_, target)| target.body.as_str());
    let Some(body) = of_target.or(session.document().body.first().map(|body| body.id.as_str())) else {
        ui.label("Add a body first.");
        return;
    };
    let Some(text) = fields::text(ui, &format!("{NEW}, of {body}"), "") else { return };
    let Some((name, numbers)) = named_numbers(&text, N_NEW) else {
        return commands.push(Command::Say(SHAPE.into()));
    };
    let values = vec![
        ("id", name.as_str().into()),
        ("body", body.into()),
        ("width_m", numbers[0].into()),
        ("depths_m", list_of(&numbers[1..])),
    ];
    commands.edit(format!("crush profile {name}"), vec![append("crush_profile", values)]);
}
