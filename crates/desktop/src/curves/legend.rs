//! Which line is which: a sample of each with its name, above the diagram. A body's film and sensor share a colour; the
//! dash tells them apart.

use crate::look;
use eframe::egui::{RichText, Sense, Shape, Stroke, Ui, vec2};
use filmgauge_report::curve_styles;
use filmgauge_results::Panel;

/// Size of a sample, points.
const SAMPLE: [f32; 2] = [26.0, 12.0];
/// Length of a dash, points.
pub(super) const DASH: f32 = 7.0;

/// Shows the names.
pub(super) fn show(ui: &mut Ui, panel: &Panel) {
    ui.horizontal_wrapped(|ui| {
        let unit = if panel.unit.is_empty() { String::new() } else { format!(", {}", panel.unit) };
        ui.label(RichText::new(format!("{}{unit}", panel.title)).strong());
        for (curve, style) in panel.curves.iter().zip(curve_styles(&panel.curves)) {
            let (rect, _) = ui.allocate_exact_size(vec2(SAMPLE[0], SAMPLE[1]), Sense::hover());
            let ends = [rect.left_center(), rect.right_center()];
            let stroke = Stroke::new(2.0, look::series(style.colour));
            if style.dash.is_some() {
                ui.painter().extend(Shape::dashed_line(&ends, stroke, DASH, DASH / 2.0));
            } else {
                ui.painter().line_segment(ends, stroke);
            }
            ui.label(&curve.label);
        }
    });
}
