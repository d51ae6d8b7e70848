//! Which line is which: a sample of each with its name, above the diagram. A body's film and sensor share a colour; the
//! dash tells them apart.

use crate::look;
use eframe::egui::{Color32, RichText, Sense, Shape, Stroke, Ui, vec2};
use filmgauge_results::{Curve, Panel};

/// Size of a sample, points.
const SAMPLE: [f32; 2] = [26.0, 12.0];
/// Length of a dash, points.
pub(super) const DASH: f32 = 7.0;

/// Whether a curve is dashed.
pub(super) fn is_dashed(curve: &Curve) -> bool {
    curve.source == "sensor"
}

/// One colour for each curve: the n-th film curve of a body and its n-th sensor share one.
pub(super) fn colours(curves: &[Curve]) -> Vec<Color32> {
    let mut known: Vec<(&str, usize)> = Vec::new();
    let mut colours = Vec::with_capacity(curves.len());
    for (at, curve) in curves.iter().enumerate() {
        let alike = |other: &&Curve| body(other) == body(curve) && other.source == curve.source;
        let key = (body(curve), curves[..at].iter().filter(alike).count());
        let n = known.iter().position(|other| *other == key).unwrap_or(known.len());
        if n == known.len() {
            known.push(key);
        }
        colours.push(look::series(n));
    }
    colours
}

fn body(curve: &Curve) -> &str {
    curve.label.split(',').next().unwrap_or_default().trim()
}

/// Shows the names.
pub(super) fn show(ui: &mut Ui, panel: &Panel) {
    ui.horizontal_wrapped(|ui| {
        let unit = if panel.unit.is_empty() { String::new() } else { format!(", {}", panel.unit) };
        ui.label(RichText::new(format!("{}{unit}", panel.title)).strong());
        for (curve, colour) in panel.curves.iter().zip(colours(&panel.curves)) {
            let (rect, _) = ui.allocate_exact_size(vec2(SAMPLE[0], SAMPLE[1]), Sense::hover());
            let ends = [rect.left_center(), rect.right_center()];
            let stroke = Stroke::new(2.0, colour);
            if is_dashed(curve) {
                ui.painter().extend(Shape::dashed_line(&ends, stroke, DASH, DASH / 2.0));
            } else {
                ui.painter().line_segment(ends, stroke);
            }
            ui.label(&curve.label);
        }
    });
}
