//! Diagrams with their legends.

use crate::people::panel_in_units;
use crate::plot::{PlotFrame, curve_styles, panel_svg};
use filmgauge_results::{Panel, UnitSystem};
use serde::Serialize;

/// One diagram.
#[derive(Serialize)]
pub(crate) struct PanelView {
    pub(crate) title: String,
    pub(crate) unit: String,
    pub(crate) svg: String,
    pub(crate) legend: Vec<LegendView>,
}

#[derive(Serialize)]
pub(crate) struct LegendView {
    pub(crate) class: String,
    pub(crate) label: String,
}

pub(super) fn panels(panels: &[Panel], system: UnitSystem) -> Vec<PanelView> {
    let panels: Vec<Panel> = panels.iter().map(|panel| panel_in_units(panel, system)).collect();
    let frame = PlotFrame::around(&panels);
    panels
        .iter()
        .enumerate()
        .map(|(number, panel)| PanelView {
            title: panel.title.clone(),
            unit: panel.unit.clone(),
            svg: panel_svg(panel, number, &frame),
            legend: panel
                .curves
                .iter()
                .zip(curve_styles(&panel.curves))
                .map(|(curve, style)| LegendView { class: style.class(), label: curve.label.clone() })
                .collect(),
        })
        .collect()
}
