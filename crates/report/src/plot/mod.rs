//! One diagram over time as SVG: bands, lines broken at gaps, markers. Colours come from the sheet's style by class,
//! so that one drawing serves light, dark and paper.

mod axis;
mod file;
mod lines;
mod markers;
mod style;
mod svg;

pub use file::panel_svg_file;
pub(crate) use file::written_out;
pub(crate) use lines::{Place, band_runs, line_runs};
pub use style::{CurveStyle, curve_styles};
pub(crate) use svg::{Svg, escaped};

pub(crate) use axis::{Axis, Span};
use filmgauge_results::Panel;

/// Width of every diagram, in drawing units.
const WIDTH: f64 = 860.0;
const PLOT_HEIGHT: f64 = 205.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 12.0;
const BELOW: f64 = 36.0;
const HEIGHT_OF_NOTHING: f64 = 48.0;

/// What every diagram of a sheet shares.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PlotFrame {
    /// Time from and to, in s; the same for all diagrams so that instants line up down the page.
    span_s: Option<Span>,
}

impl PlotFrame {
    /// The frame that holds every point of `panels`.
    pub(crate) fn around(panels: &[Panel]) -> Self {
        let times = panels.iter().flat_map(|panel| &panel.curves).flat_map(|curve| &curve.points);
        Self { span_s: Span::around(times.map(|point| point.time_s)) }
    }
}

/// Draws `panel`, which is in the units shown; `number` makes the ids inside the drawing unique on its page.
pub(crate) fn panel_svg(panel: &Panel, number: usize, frame: &PlotFrame) -> String {
    let diagram = Diagram::laid(panel, frame);
    let mut svg = Svg::new("plot", WIDTH, diagram.height, &panel.title, &diagram.described(), number);
    diagram.draw(&mut svg);
    svg.finish()
}

/// A diagram laid out, not yet drawn.
struct Diagram<'a> {
    panel: &'a Panel,
    /// Whole height, labels and axis included.
    height: f64,
    /// Axes and labels; `None` when there is nothing to draw.
    layout: Option<Layout<'a>>,
}

struct Layout<'a> {
    across: Axis,
    up: Axis,
    labels: markers::PlacedMarkers<'a>,
}

impl<'a> Diagram<'a> {
    fn laid(panel: &'a Panel, frame: &PlotFrame) -> Self {
        let (Some(span_s), Some(value_span)) = (frame.span_s, value_span(panel)) else {
            return Self { panel, height: HEIGHT_OF_NOTHING, layout: None };
        };
        let labels =
            markers::placed(&panel.markers, |time_s| LEFT + span_s.share(time_s) * (WIDTH - LEFT - RIGHT));
        let top = 22.0_f64.max(8.0 + labels.height());
        let across = Axis::new(span_s.scaled(1000.0), LEFT, WIDTH - RIGHT, 12);
        let up = Axis::new(value_span, top + PLOT_HEIGHT, top, 5);
        Self { panel, height: top + PLOT_HEIGHT + BELOW, layout: Some(Layout { across, up, labels }) }
    }

    fn draw(&self, svg: &mut Svg) {
        let Some(Layout { across, up, labels }) = &self.layout else {
            svg.text("tick", (LEFT, 28.0), NOTHING);
            return;
        };
        grid(svg, across, up, &self.panel.unit);
        svg.open_clipped(LEFT, up.to(), WIDTH - LEFT - RIGHT, PLOT_HEIGHT);
        let styles = curve_styles(&self.panel.curves);
        for (curve, style) in self.panel.curves.iter().zip(&styles) {
            lines::band(svg, curve, *style, across, up);
        }
        for (curve, style) in self.panel.curves.iter().zip(&styles) {
            lines::line(svg, curve, *style, across, up);
        }
        svg.close_group();
        labels.draw(svg, up.to(), PLOT_HEIGHT);
    }

    fn described(&self) -> String {
        if self.layout.is_none() {
            return NOTHING.to_owned();
        }
        let labels: Vec<&str> = self.panel.curves.iter().map(|curve| curve.label.as_str()).collect();
        let markers: Vec<&str> = self.panel.markers.iter().map(|marker| marker.label.as_str()).collect();
        let mut text = format!("Curves over time: {}.", labels.join("; "));
        if !markers.is_empty() {
            text.push_str(&format!(" Marked instants: {}.", markers.join("; ")));
        }
        text + " The numbers are in motion.csv."
    }
}

const NOTHING: &str = "No values to draw.";

/// All values, and their bands as far as these do not squeeze the curves: a band opens without bound at an end.
pub(crate) fn value_span(panel: &Panel) -> Option<Span> {
    let values = panel.curves.iter().flat_map(|curve| &curve.points).filter_map(|point| point.value);
    let curves_only = Span::around(values)?;
    let reach = 0.3 * curves_only.width();
    let edges = panel.curves.iter().flat_map(|curve| {
        let half_widths = curve.band.iter().flat_map(|band| &band.half_width);
        curve
            .points
            .iter()
            .zip(half_widths)
            .filter_map(|(point, half_width)| Some((point.value?, (*half_width)?)))
    });
    let edges = edges.flat_map(|(value, half_width)| [value - half_width, value + half_width]);
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

#[cfg(test)]
mod tests;
