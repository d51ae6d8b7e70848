//! Curves of steadying: each frame's own shift and turn against the reference frame, never smoothed.

use crate::measured::Measured;
use crate::session::Session;
use filmgauge_quantities::COVERAGE_95;
use filmgauge_results::{Curve, CurveBand, CurvePoint, Panel, StepRow};

/// A value of a step and its standard uncertainty; `None` in a frame without a step.
type Value = fn(&StepRow) -> Option<(f64, f64)>;

/// Title, unit and value of each curve.
const CURVES: [(&str, &str, Value); 3] = [
    ("Frame shifted to the right", "px", |row| Some((row.dx_px?, row.u_dx_px?))),
    ("Frame shifted downwards", "px", |row| Some((row.dy_px?, row.u_dy_px?))),
    ("Frame turned, clockwise", "deg", |row| {
        Some((row.turn_rad?.to_degrees(), row.u_turn_rad?.to_degrees()))
    }),
];

pub(super) fn panels(session: &Session) -> Vec<Panel> {
    let Some(measured) = session.measured.as_ref().filter(|it| !it.results.steps.is_empty()) else {
        return Vec::new();
    };
    let films: Vec<&[StepRow]> = measured.results.steps.chunk_by(|a, b| a.camera == b.camera).collect();
    let panel = |(title, unit, value): (&str, &str, Value)| Panel {
        title: title.into(),
        unit: unit.into(),
        curves: films.iter().filter_map(|rows| curve(measured, rows, value)).collect(),
        markers: Vec::new(),
    };
    CURVES.into_iter().map(panel).collect()
}

fn curve(measured: &Measured, rows: &[StepRow], value: Value) -> Option<Curve> {
    let clock = measured.clock(&rows[0].camera)?;
    let timed = rows.iter().filter_map(|row| Some((clock.time_s(row.frame)?, value(row))));
    let (points, half_width) = timed
        .map(|(time_s, value)| {
            (CurvePoint { time_s, value: value.map(|it| it.0) }, value.map(|it| COVERAGE_95 * it.1))
        })
        .unzip();
    Some(Curve {
        label: format!("{}, film", rows[0].camera),
        source: "film".into(),
        points,
        band: Some(CurveBand { half_width }),
    })
}
