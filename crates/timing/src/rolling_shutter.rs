//! Rolling shutter: a row read later was exposed later, and a mark's time depends on its row.

use crate::FilmClock;
use serde::{Deserialize, Serialize};

/// How much later each row is exposed than the one above it.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct RollingShutter {
    /// From a row to the next, s; 0 for a global shutter, negative when the picture is read upwards.
    pub row_s: f64,
    /// Standard uncertainty of `row_s`, s.
    pub row_u_s: f64,
}

/// How much later than row 0 a row is exposed, s. Rows may be given with their sub-pixel part.
#[must_use]
pub fn row_time_s(row: f64, shutter: RollingShutter) -> f64 {
    row * shutter.row_s
}

/// Time of a mark at `row` of `frame`, and its standard uncertainty, s. The clock's frame time is that of row 0.
///
/// A place measured at that row belongs to this instant: at a speed v it is v·r·`row_s` ahead of the frame's.
#[must_use]
pub fn mark_time_s(clock: &FilmClock, frame: f64, row: f64, shutter: RollingShutter) -> (f64, f64) {
    let (time_s, u_s) = clock.time_s(frame);
    (time_s + row_time_s(row, shutter), u_s.hypot(row * shutter.row_u_s))
}
