//! One diagram over time as SVG: bands, lines broken at gaps, markers. Colours come from the sheet's style by class,
//! so that one drawing serves light, dark and paper.

mod axis;
mod lines;
mod markers;
mod style;
mod svg;

pub(crate) use style::styles;
pub(crate) use svg::escaped;

use crate::display::{ShownUnit, unit_of_panel};
use axis::{Axis, Span};
use filmgauge_results::{Panel, UnitSystem};
use svg::Svg;

/// Width of every diagram, in drawing units.
const WIDTH: f64 = 860.0;
const PLOT_HEIGHT: f64 = 205.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 12.0;
const BELOW: f64 = 36.0;

/// What every diagram of a sheet shares.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PlotFrame {
    /// Units for people.
    pub(crate) system: UnitSystem,
    /// Time from and to, in s; the same for all diagrams so that instants line up down the page.
    span_s: Option<Span>,
}

impl PlotFrame {
    /// The frame that holds every point of `panels`.
    pub(crate) fn around(panels: &[Panel], system: UnitSystem) -> Self {
        let times = panels.iter().flat_map(|panel| &panel.curves).flat_map(|curve| &curve.points);
        Self { system, span_s: Span::around(times.map(|point| point.time_s)) }
    }
}

/// The diagram's unit as text, such as "m/s".
pub(crate) fn panel_unit(panel: &Panel, system: UnitSystem) -> String {
    shown_unit(panel, system).map_or_else(|| panel.unit.clone(), |unit| unit.text.to_owned())
}

/// Draws `panel`; `number` makes the ids inside the drawing unique on its page.
pub(crate) fn panel_svg(panel: &Panel, number: usize, frame: &PlotFrame) -> String {
    let unit = shown_unit(panel, frame.system);
    let to_shown = move |value: f64| unit.map_or(value, |unit| unit.of(value));
    let (Some(span_s), Some(value_span)) = (frame.span_s, value_span(panel, to_shown)) else {
        return nothing_to_draw(panel, number);
    };
    let labels =
        markers::placed(&panel.markers, |time_s| LEFT + span_s.share(time_s) * (WIDTH - LEFT - RIGHT));
    let top = 22.0_f64.max(8.0 + labels.height());
    let across = Axis::new(span_s.scaled(1000.0), LEFT, WIDTH - RIGHT, 12);
    let up = Axis::new(value_span, top + PLOT_HEIGHT, top, 5);

    let mut svg = Svg::new("plot", WIDTH, top + PLOT_HEIGHT + BELOW, &panel.title, &described(panel), number);
    grid(&mut svg, &across, &up, &panel_unit(panel, frame.system));
    svg.open_clipped(LEFT, top, WIDTH - LEFT - RIGHT, PLOT_HEIGHT);
    let styles = styles(&panel.curves);
    for (curve, style) in panel.curves.iter().zip(&styles) {
        lines::band(&mut svg, curve, *style, &across, &up, to_shown);
    }
    for (curve, style) in panel.curves.iter().zip(&styles) {
        lines::line(&mut svg, curve, *style, &across, &up, to_shown);
    }
    svg.close_clipped();
    labels.draw(&mut svg, top, PLOT_HEIGHT);
    svg.finish()
}

fn shown_unit(panel: &Panel, system: UnitSystem) -> Option<ShownUnit> {
    let largest = panel.curves.iter().flat_map(|curve| &curve.points).filter_map(|point| point.value);
    unit_of_panel(&panel.unit, system, largest.fold(0.0, |largest, value| value.abs().max(largest)))
}

/// All values, and their bands as far as these do not squeeze the curves: a band opens without bound at an end.
fn value_span(panel: &Panel, to_shown: impl Fn(f64) -> f64 + Copy) -> Option<Span> {
    let values = panel.curves.iter().flat_map(|curve| &curve.points).filter_map(|point| point.value);
    let curves_only = Span::around(values.map(to_shown))?;
    let reach = 0.3 * curves_only.width();
    let edges = panel.curves.iter().flat_map(|curve| {
        let half_widths = curve.band.iter().flat_map(|band| &band.half_width);
        curve
            .points
            .iter()
            .zip(half_widths)
            .filter_map(|(point, half_width)| Some((point.value?, (*half_width)?)))
    });
    let edges =
        edges.flat_map(|(value, half_width)| [to_shown(value - half_width), to_shown(value + half_width)]);
    let with_bands = edges.map(|edge| edge.clamp(curves_only.low - reach, curves_only.high + reach));
    Some(Span::around(with_bands.chain([curves_only.low, curves_only.high]))?.padded(0.06))
}

fn grid(svg: &mut Svg, across: &Axis, up: &Axis, unit: &str) {
    for tick in up.ticks() {
        svg.line(if tick.is_zero { "zero" } else { "grid" }, (LEFT, tick.at), (WIDTH - RIGHT, tick.at));
        svg.text("tick end", (LEFT - 7.0, tick.at + 3.8), &tick.label);
    }
    for tick in across.ticks() {
        svg.line("stub", (tick.at, up.from()), (tick.at, up.from() + 4.0));
        svg.text("tick middle", (tick.at, up.from() + 17.0), &tick.label);
    }
    svg.line("frame", (LEFT, up.from()), (WIDTH - RIGHT, up.from()));
    svg.text("unit end", (LEFT - 7.0, up.to() - 5.0), unit);
    svg.text("unit endmost", (WIDTH - RIGHT, up.from() + 31.0), "ms after time zero");
}

fn described(panel: &Panel) -> String {
    let labels: Vec<&str> = panel.curves.iter().map(|curve| curve.label.as_str()).collect();
    let markers: Vec<&str> = panel.markers.iter().map(|marker| marker.label.as_str()).collect();
    let mut text = format!("Curves over time: {}.", labels.join("; "));
    if !markers.is_empty() {
        text.push_str(&format!(" Marked instants: {}.", markers.join("; ")));
    }
    text + " The numbers are in motion.csv."
}

fn nothing_to_draw(panel: &Panel, number: usize) -> String {
    let mut svg = Svg::new("plot", WIDTH, 48.0, &panel.title, "No values to draw.", number);
    svg.text("tick", (LEFT, 28.0), "No values to draw.");
    svg.finish()
}

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_results::{Curve, CurveBand, CurvePoint, PanelMarker};

    fn panel(values: &[Option<f64>]) -> Panel {
        let points: Vec<CurvePoint> = values
            .iter()
            .enumerate()
            .map(|(at, value)| CurvePoint {
                time_s: f64::from(u16::try_from(at).unwrap()) * 1e-3,
                value: *value,
            })
            .collect();
        let band = CurveBand { half_width: values.iter().map(|value| value.map(|_| 0.1)).collect() };
        let film = Curve { label: "car, film".into(), source: "film".into(), points, band: Some(band) };
        let sensor =
            Curve { source: "sensor".into(), label: "car, <10CV>".into(), band: None, ..film.clone() };
        Panel {
            title: "Speed \"&\" more".into(),
            unit: "m/s".into(),
            curves: vec![film, sensor],
            markers: vec![PanelMarker { time_s: 0.001, label: "contact".into() }],
        }
    }

    fn drawn(panel: &Panel) -> String {
        panel_svg(panel, 3, &PlotFrame::around(std::slice::from_ref(panel), UnitSystem::Si))
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
        for values in
            [vec![Some(5.0)], vec![Some(5.0); 3], vec![Some(0.0); 2], vec![Some(1e300), Some(-1e300)]]
        {
            let svg = drawn(&panel(&values));
            assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
        }
        assert!(drawn(&panel(&[Some(f64::MAX), Some(f64::MIN)])).contains("No values to draw."));
    }
}
