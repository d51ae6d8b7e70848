//! The curves on the screen: press or drag and the film follows; bands, gaps, instants, sensors dashed.

use super::Curves;
use super::legend::{self, DASH};
use super::thin::{Stretch, thinned};
use crate::command::{Command, Commands, Figure};
use crate::look;
use crate::session::Session;
use eframe::egui::{self, Color32, Id, Role, Sense, Ui, WidgetInfo};
use egui_plot::{FilledArea, Line, LineStyle, Plot, PlotPoints, PlotUi, Span, VLine};
use filmgauge_report::{CurveStyle, curve_styles};
use filmgauge_results::{Curve, Panel};

/// Least height of a diagram, points.
const LEAST_HEIGHT: f32 = 90.0;
/// Height of the names above a diagram, points.
const LEGEND_HEIGHT: f32 = 32.0;
const BAND_ALPHA: f32 = 0.22;

/// Shows the curves.
pub(crate) fn show(ui: &mut Ui, session: &Session, curves: &Curves, commands: &mut Commands) {
    // Without this the panel would shrink around its contents.
    ui.set_min_size(ui.available_size());
    let titles = curves.titles(session);
    ui.horizontal_wrapped(|ui| {
        for (title, is_shown) in &titles {
            if ui.selectable_label(*is_shown, title).clicked() {
                commands.push(Command::Curves(title.clone()));
            }
        }
        ui.separator();
        if ui.button("Whole time").clicked() {
            commands.push(Command::WholeTime);
        }
        for (name, figure) in [("Curves as SVG", Figure::Svg), ("Curves as PNG", Figure::Png)] {
            if ui.button(name).clicked() {
                commands.push(Command::Export(figure));
            }
        }
    });
    let shown: Vec<&Panel> = curves.shown(session).collect();
    if shown.is_empty() {
        return;
    }
    let height = (ui.available_height() / shown.len() as f32 - LEGEND_HEIGHT).max(LEAST_HEIGHT);
    egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        for panel in shown {
            diagram(ui, session, panel, height, commands);
        }
    });
}

fn diagram(ui: &mut Ui, session: &Session, panel: &Panel, height: f32, commands: &mut Commands) {
    legend::show(ui, panel);
    let group = Id::unique("time");
    let mut plot = Plot::new(panel.title.as_str())
        .height(height)
        .allow_drag(false)
        .allow_boxed_zoom(false)
        .allow_scroll(false)
        .allow_zoom([true, false])
        .allow_axis_zoom_drag(false)
        .link_axis(group, [true, false])
        .link_cursor(group, [true, false])
        .x_axis_formatter(|mark, _| format!("{:.0} ms", mark.value * 1e3))
        .y_axis_min_width(56.0)
        .sense(Sense::click_and_drag());
    if session.view.whole_time {
        plot = plot.reset();
    }
    let now_s = session.time_s();
    let columns = ui.available_width().max(64.0) as usize;
    let shown = plot.show(ui, |plot| {
        draw_gaps(plot, session);
        let bounds = plot.plot_bounds();
        let (from_s, to_s) = range(panel, bounds.min()[0], bounds.max()[0]);
        for (curve, style) in panel.curves.iter().zip(curve_styles(&panel.curves)) {
            draw(plot, curve, style, &thinned(curve, from_s, to_s, columns));
        }
        for marker in &panel.markers {
            let line = VLine::new(marker.label.clone(), marker.time_s);
            plot.vline(line.color(Color32::GRAY).style(LineStyle::Dotted { spacing: 5.0 }));
        }
        if let Some(now_s) = now_s {
            plot.vline(
                VLine::new("this frame", now_s).color(plot.ctx().global_style().visuals.warn_fg_color),
            );
        }
        plot.pointer_coordinate().map(|point| point.x)
    });
    let name = told(panel, now_s);
    shown.response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &name));
    let pressed = shown.response.clicked() || shown.response.dragged();
    if let Some(time_s) = shown.inner.filter(|_| pressed) {
        commands.push(Command::Time(time_s));
    }
}

/// What is drawn: what is seen, or all of it while nothing has been seen yet.
fn range(panel: &Panel, from_s: f64, to_s: f64) -> (f64, f64) {
    let ends = panel
        .curves
        .iter()
        .filter_map(|curve| Some((curve.points.first()?.time_s, curve.points.last()?.time_s)));
    let (first, last) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), (c, d)| (a.min(c), b.max(d)));
    let is_new = from_s >= to_s || to_s < first || from_s > last;
    if is_new { (first, last) } else { (from_s, to_s) }
}

fn draw(plot: &mut PlotUi<'_>, curve: &Curve, style: CurveStyle, stretches: &[Stretch]) {
    let colour = look::series(style.colour);
    let line_style = if style.dash.is_some() { LineStyle::Dashed { length: DASH } } else { LineStyle::Solid };
    for stretch in stretches {
        if !stretch.band.is_empty() {
            let column = |n: usize| stretch.band.iter().map(|edge| edge[n]).collect::<Vec<f64>>();
            let band = FilledArea::new("", &column(0), &column(1), &column(2));
            plot.add(band.fill_color(colour.gamma_multiply(BAND_ALPHA)));
        }
        let points: PlotPoints<'_> = stretch.points.iter().copied().collect();
        plot.line(Line::new(curve.label.clone(), points).color(colour).style(line_style).width(1.6));
    }
}

/// Gaps of the chosen target.
fn draw_gaps(plot: &mut PlotUi<'_>, session: &Session) {
    let (Some(measured), Some(chosen)) = (&session.measured, &session.view.target) else { return };
    let Some(clock) = measured.clock(&chosen.camera) else { return };
    for gap in measured.gaps(&chosen.camera).filter(|gap| gap.target == chosen.target) {
        if let (Some(from_s), Some(to_s)) = (clock.time_s(gap.first_frame), clock.time_s(gap.last_frame)) {
            let name = format!("{}: {}", gap.target, gap.cause);
            plot.span(Span::new(name, from_s..=to_s).fill(Color32::GRAY.gamma_multiply(0.25)));
        }
    }
}

/// The diagram in words: each curve's value at the instant that is looked at.
fn told(panel: &Panel, now_s: Option<f64>) -> String {
    let mut words = format!("Curves: {}", panel.title);
    let Some(now_s) = now_s else { return words };
    for curve in &panel.curves {
        let at = curve.points.partition_point(|point| point.time_s < now_s);
        let value = curve.points.get(at).and_then(|point| point.value);
        let value = value.map_or_else(|| "gap".to_owned(), |value| format!("{value:.3} {}", panel.unit));
        words.push_str(&format!("; {}: {value}", curve.label));
    }
    words
}
