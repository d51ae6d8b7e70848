//! The line of the test itself: id, title, axes, units, what counts as contact.

use super::{Line, State, fields};
use crate::command::Commands;
use crate::edits::{list, set_test};
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_daybook::Value;
use filmgauge_dossier::document::{Axes, BesideMethod, ContactBy, Units};

const AXES: [(Axes, &str); 2] = [(Axes::Iso8855, "ISO 8855, z up"), (Axes::SaeJ1733, "SAE J1733, z down")];
const UNITS: [(Units, &str); 2] = [(Units::Si, "SI"), (Units::Us, "US customary")];
const CONTACTS: [(ContactBy, &str); 2] =
    [(ContactBy::Film, "the kink in the film's own motion"), (ContactBy::Zero, "time zero")];

const BESIDE: [(&[BesideMethod], &str); 5] = [
    (&[], "nothing"),
    (&[BesideMethod::Butterworth], "a Butterworth filter"),
    (&[BesideMethod::SavitzkyGolay], "a polynomial about each frame"),
    (&[BesideMethod::StatedNoise], "a spline by the stated noise"),
    (&[BesideMethod::Butterworth, BesideMethod::SavitzkyGolay, BesideMethod::StatedNoise], "all three"),
];
const FUSED: [(bool, &str); 2] = [(false, "kept apart"), (true, "also given as one motion")];

pub(super) fn lines(session: &Session) -> Vec<Line> {
    let test = &session.document().test;
    let state = if test.id.trim().is_empty() {
        State::Empty("give it a short id".into())
    } else {
        State::Done(test.id.clone())
    };
    vec![Line::new("test", "Test", state)]
}

pub(super) fn open(ui: &mut Ui, session: &Session, _: &Line, commands: &mut Commands) {
    let test = &session.document().test;
    for (key, label, value) in
        [("id", "Id", &test.id), ("title", "Title", &test.title), ("comment", "Comment", &test.comment)]
    {
        if let Some(text) = fields::text(ui, label, value) {
            commands.edit(format!("{} of the test", label.to_lowercase()), vec![set_test(key, text)]);
        }
    }
    let template = test.template.as_deref().unwrap_or_default();
    if let Some(text) = fields::text(ui, "Folder of the lab's own sheet template", template) {
        commands.edit("template of the sheet", vec![set_test("template", text)]);
    }
    if let Some(axes) = fields::choice(ui, "Axes of the channels", Some(test.axes), &AXES) {
        commands.edit("axes", vec![set_test("axes", axes.word())]);
    }
    if let Some(units) = fields::choice(ui, "Units shown", Some(test.units), &UNITS) {
        let word = if units == Units::Us { "us" } else { "si" };
        commands.edit("units", vec![set_test("units", word)]);
    }
    if let Some(contact) = fields::choice(ui, "Contact is", Some(test.contact), &CONTACTS) {
        let word = if contact == ContactBy::Zero { "zero" } else { "film" };
        commands.edit("what counts as contact", vec![set_test("contact", word)]);
    }
    if let Some(fused) = fields::choice(ui, "Film and forward sensor are", Some(test.fused), &FUSED) {
        commands.edit("fused motion", vec![set_test("fused", fused)]);
    }
    let chosen = BESIDE.iter().map(|(methods, _)| *methods).find(|methods| *methods == test.beside);
    if let Some(methods) = fields::choice(ui, "Beside the smoothing spline", chosen, &BESIDE) {
        let words = methods.iter().map(|method| Value::from(method.word()));
        commands.edit("curves beside", vec![set_test("beside", list(words.collect()))]);
    }
}
