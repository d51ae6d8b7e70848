//! Tests of whole diagrams: gaps, escaping, and panels with little or nothing to draw.

use super::*;
use filmgauge_results::{Curve, CurveBand, CurvePoint, PanelMarker};

fn panel(values: &[Option<f64>]) -> Panel {
    let points: Vec<CurvePoint> = values
        .iter()
        .enumerate()
        .map(|(at, value)| CurvePoint { time_s: f64::from(u16::try_from(at).unwrap()) * 1e-3, value: *value })
        .collect();
    let band = CurveBand { half_width: values.iter().map(|value| value.map(|_| 0.1)).collect() };
    let film = Curve { label: "car, film".into(), source: "film".into(), points, band: Some(band) };
    let sensor = Curve { source: "sensor".into(), label: "car, <10CV>".into(), band: None, ..film.clone() };
    Panel {
        title: "Speed \"&\" more".into(),
        unit: "m/s".into(),
        curves: vec![film, sensor],
        markers: vec![PanelMarker { time_s: 0.001, label: "contact".into() }],
    }
}

fn drawn(panel: &Panel) -> String {
    panel_svg(panel, 3, &PlotFrame::around(std::slice::from_ref(panel)))
}

#[test]
fn a_gap_breaks_line_and_band() {
    let svg = drawn(&panel(&[Some(1.0), Some(2.0), None, Some(2.0), Some(1.0)]));
    let line = svg.split("class=\"curve s1\" d=\"").nth(1).unwrap().split('"').next().unwrap();
    assert_eq!(line.matches('M').count(), 2, "{line}");
    let band = svg.split("class=\"band s1\" d=\"").nth(1).unwrap().split('"').next().unwrap();
    assert_eq!(band.matches('Z').count(), 2, "{band}");
    assert!(svg.contains("class=\"curve s1 sensor dash1\""), "same body, same colour, dashed: {svg}");
}

#[test]
fn text_is_escaped_and_ids_are_numbered() {
    let svg = drawn(&panel(&[Some(1.0), Some(2.0)]));
    assert!(svg.contains("Speed &quot;&amp;&quot; more</title>"));
    assert!(!svg.contains("<10CV>"));
    assert!(svg.contains("aria-labelledby=\"t3 d3\""));
}

#[test]
fn odd_panels_are_drawn_or_say_so() {
    assert!(drawn(&panel(&[])).contains("No values to draw."));
    assert!(drawn(&panel(&[None, None])).contains("No values to draw."));
    for values in [vec![Some(5.0)], vec![Some(5.0); 3], vec![Some(0.0); 2], vec![Some(1e300), Some(-1e300)]] {
        let svg = drawn(&panel(&values));
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
    }
    assert!(drawn(&panel(&[Some(f64::MAX), Some(f64::MIN)])).contains("No values to draw."));
}
