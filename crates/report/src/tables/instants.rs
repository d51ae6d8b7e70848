//! The tables of events and of each frame's own step.

use super::{Of, Table};
use filmgauge_results::{EventRow, StepRow};

/// A number of a step: head, unit, meaning, and how to read it from a row.
type Number = (&'static str, &'static str, &'static str, fn(&StepRow) -> Option<f64>);

/// Numbers of a step after camera and frame.
pub(crate) const STEP_NUMBERS: [Number; 6] = [
    ("dx_px", "px", "shift to the right", |row| row.dx_px),
    ("u_dx_px", "px", "one standard uncertainty of dx_px", |row| row.u_dx_px),
    ("dy_px", "px", "shift downwards", |row| row.dy_px),
    ("u_dy_px", "px", "one standard uncertainty of dy_px", |row| row.u_dy_px),
    ("turn_rad", "rad", "turn from x towards y", |row| row.turn_rad),
    ("u_turn_rad", "rad", "one standard uncertainty of turn_rad", |row| row.u_turn_rad),
];

pub(super) fn events(rows: &[EventRow]) -> Table<'_> {
    Of::new(rows)
        .text("id", "name of the instant", |row| &row.id)
        .text("camera", "camera id", |row| &row.camera)
        .whole("frame", "frame in which it was seen, or the nearest", |row| row.frame)
        .number("time_s", "s", "from time zero", |row| row.time_s)
        .number("u_s", "s", "one standard uncertainty of time_s", |row| row.u_s)
        .text("how", "hand, or found", |row| &row.how)
        .maybe_text("text", "what was seen, or how it was found", |row| Some(row.text.as_str()))
        .table("events", "Instants of the test")
}

pub(super) fn steps(rows: &[StepRow]) -> Table<'_> {
    let mut of = Of::new(rows).text("camera", "camera id", |row| &row.camera).whole(
        "frame",
        "frame number, from 0 in the order of presentation",
        |row| row.frame,
    );
    for (name, unit, meaning, get) in STEP_NUMBERS {
        of = of.maybe(name, unit, meaning, get);
    }
    of.whole("n_marks", "marks used", |row| row.n_marks)
        .maybe_text("reason", "why there is no step", |row| Some(row.reason.as_str()))
        .table("steady", "How each picture of a steadied film lies against the reference frame")
}
