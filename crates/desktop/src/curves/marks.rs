//! Curves of the chosen target's marks: its place in the picture and how far each mark is trusted.

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
    let panel = |what: &str, unit: &str, value: fn(&MarkRow) -> f64, u: Option<fn(&MarkRow) -> f64>| Panel {
        title: format!("{what} of {name}"),
        unit: unit.into(),
        curves: vec![curve(name, rows, value, u)],
        markers: Vec::new(),
    };
    vec![
        panel("Column", "px", |mark| mark.x_px, Some(|mark| mark.sx_px)),
        panel("Row", "px", |mark| mark.y_px, Some(|mark| mark.sy_px)),
        panel("Trust", "", |mark| mark.trust, None),
    ]
}

/// One value of the marks over time; a frame without a mark breaks the line.
fn curve(name: &str, rows: &[MarkRow], value: fn(&MarkRow) -> f64, u: Option<fn(&MarkRow) -> f64>) -> Curve {
    let mut points: Vec<CurvePoint> = Vec::with_capacity(rows.len());
    let mut half_width = Vec::with_capacity(rows.len());
    let mut before: Option<&MarkRow> = None;
    for row in rows {
        if let Some(last) = before.filter(|last| row.frame > last.frame + 1) {
            points.push(CurvePoint { time_s: f64::midpoint(last.time_s, row.time_s), value: None });
            half_width.push(None);
        }
        points.push(CurvePoint { time_s: row.time_s, value: Some(value(row)) });
        half_width.push(u.map(|u| COVERAGE_95 * u(row)));
        before = Some(row);
    }
    let band = u.is_some().then_some(CurveBand { half_width });
    Curve { label: format!("{name}, film"), source: "film".into(), points, band }
}
