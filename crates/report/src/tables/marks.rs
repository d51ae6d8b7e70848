//! The tables of marks and of the stretches without them.

use super::{Of, Table};
use filmgauge_results::{GapRow, MarkRow};

/// A number that every mark has: head, unit, meaning, and how to read it from a row.
type Number = (&'static str, &'static str, &'static str, fn(&MarkRow) -> f64);
/// A number that a mark may have.
type Check = (&'static str, &'static str, &'static str, fn(&MarkRow) -> Option<f64>);

/// Numbers after camera, target and frame, and trust.
pub(crate) const MARK_NUMBERS: [Number; 7] = [
    ("time_s", "s", "mid-exposure, from time zero", |row| row.time_s),
    ("x_px", "px", "column of the centre in the stored picture", |row| row.x_px),
    ("y_px", "px", "row of the centre in the stored picture", |row| row.y_px),
    ("sx_px", "px", "one standard uncertainty of x_px", |row| row.sx_px),
    ("sy_px", "px", "one standard uncertainty of y_px", |row| row.sy_px),
    ("rxy", "1", "correlation of the two", |row| row.rxy),
    ("trust", "1", "0 to 1", |row| row.trust),
];

/// Last columns: what speaks for a mark, or against it.
pub(crate) const MARK_CHECKS: [Check; 3] = [
    ("off_x_px", "px", "to the right of where its body's pose puts it", |row| row.off_x_px),
    ("off_y_px", "px", "below where its body's pose puts it", |row| row.off_y_px),
    ("ways_apart_px", "px", "between the ways there and back over a gap", |row| row.ways_apart_px),
];

pub(super) fn marks(rows: &[MarkRow]) -> Table<'_> {
    let mut of = Of::new(rows)
        .text("camera", "camera id", |row| &row.camera)
        .text("target", "target id", |row| &row.target)
        .whole("frame", "frame number, from 0 in the order of presentation", |row| row.frame);
    let [numbers @ .., trust] = MARK_NUMBERS;
    for (name, unit, meaning, get) in numbers {
        of = of.number(name, unit, meaning, get);
    }
    of = of
        .text("state", "found, hand or inferred", |row| &row.state)
        .number(trust.0, trust.1, trust.2, trust.3)
        .maybe_text("reason", "why trust is below 1", |row| Some(row.reason.as_str()));
    for (name, unit, meaning, get) in MARK_CHECKS {
        of = of.maybe(name, unit, meaning, get);
    }
    of.table("marks", "Targets located in single frames")
}

pub(super) fn gaps(rows: &[GapRow]) -> Table<'_> {
    Of::new(rows)
        .text("camera", "camera id", |row| &row.camera)
        .text("target", "target id", |row| &row.target)
        .whole("first_frame", "first frame without a mark", |row| row.first_frame)
        .whole("last_frame", "last frame without a mark", |row| row.last_frame)
        .text("cause", "why there is none", |row| &row.cause)
        .table("gaps", "Stretches of frames without marks")
}
