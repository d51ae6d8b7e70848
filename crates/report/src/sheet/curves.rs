//! Diagrams with their legends.

use crate::plot::{PlotFrame, panel_svg, panel_unit, styles};
use filmgauge_results::{Panel, UnitSystem};
use serde::Serialize;

/// One diagram.
#[derive(Serialize)]
pub(super) struct PanelView {
    title: String,
    unit: String,
    svg: String,
    legend: Vec<LegendView>,
}

#[derive(Serialize)]
struct LegendView {
    class: String,
    label: String,
}

pub(super) fn panels(panels: &[Panel], system: UnitSystem) -> Vec<PanelView> {
    let frame = PlotFrame::around(panels, system);
    panels
        .iter()
        .enumerate()
        .map(|(number, panel)| PanelView {
            title: panel.title.clone(),
            unit: panel_unit(panel, system),
            svg: panel_svg(panel, number, &frame),
            legend: panel
                .curves
                .iter()
                .zip(styles(&panel.curves))
                .map(|(curve, style)| LegendView { class: style.class(), label: curve.label.clone() })
                .collect(),
        })
        .collect()
}
