//! Curves of the chosen target's marks: its place in the picture, how far each mark is trusted, and what speaks for it or
//! against it: its distance from the pose of its body, and what the two ways over a gap differ by.

use crate::session::Session;
use filmgauge_quantities::COVERAGE_95;
use filmgauge_results::{Curve, CurveBand, CurvePoint, MarkRow, Panel};

pub(super) fn panels(session: &Session) -> Vec<Panel> {
    let (Some(measured), Some(chosen)) = (&session.measured, &session.view.target) else { return Vec::new() };
    let rows = measured.marks(&chosen.camera, &chosen.target);
    if rows.is_empty() {
        return Vec::new();
    }
    let name = &chosen.target;
    let panel = |what: &str, unit: &str, value: Value, u: Option<fn(&MarkRow) -> f64>| Panel {
        title: format!("{what} of {name}"),
        unit: unit.into(),
        curves: vec![curve(name, rows, value, u)],
        markers: Vec::new(),
    };
    let mut panels = vec![
        panel("Column", "px", |mark| Some(mark.x_px), Some(|mark| mark.sx_px)),
        panel("Row", "px", |mark| Some(mark.y_px), Some(|mark| mark.sy_px)),
        panel("Trust", "", |mark| Some(mark.trust), None),
    ];
    let checks: [(&str, Value); 3] = [
        ("Off its body to the right", |mark| mark.off_x_px),
        ("Off its body downwards", |mark| mark.off_y_px),
        ("Ways there and back apart", |mark| mark.ways_apart_px),
    ];
    let has = |value: Value| rows.iter().any(|mark| value(mark).is_some());
    panels.extend(
        checks.iter().filter(|(_, value)| has(*value)).map(|(what, value)| panel(what, "px", *value, None)),
    );
    panels
}

/// One value of a mark; `None` where it has none.
type Value = fn(&MarkRow) -> Option<f64>;

/// One value of the marks over time; a frame without a mark breaks the line.
fn curve(name: &str, rows: &[MarkRow], value: Value, u: Option<fn(&MarkRow) -> f64>) -> Curve {
    let mut points: Vec<CurvePoint> = Vec::with_capacity(rows.len());
    let mut half_width = Vec::with_capacity(rows.len());
    let mut before: Option<&MarkRow> = None;
    for row in rows {
        if let Some(last) = before.filter(|last| row.frame > last.frame + 1) {
            points.push(CurvePoint { time_s: f64::midpoint(last.time_s, row.time_s), value: None });
            half_width.push(None);
        }
        points.push(CurvePoint { time_s: row.time_s, value: value(row) });
        half_width.push(u.map(|u| COVERAGE_95 * u(row)));
        before = Some(row);
    }
    let band = u.is_some().then_some(CurveBand { half_width });
    Curve { label: format!("{name}, film"), source: "film".into(), points, band }
}
