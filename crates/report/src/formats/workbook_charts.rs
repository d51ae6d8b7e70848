//! The sheet's diagrams in the workbook: their points on one sheet, a chart of each on another.

use super::workbook::{HEAD_ROWS, Looks};
use filmgauge_results::{Curve, Panel};
use rust_xlsxwriter::{
    Chart, ChartFormat, ChartLine, ChartLineDashType, ChartType, Workbook, Worksheet, XlsxError,
};

type Result<T> = std::result::Result<T, XlsxError>;

const POINTS: &str = "Curves";
/// Columns that one curve takes: time, value, half-width of its band.
const COLUMNS: u16 = 3;
/// Curves that fit on a sheet of 16 384 columns.
const MOST_CURVES: usize = 5000;
/// Rows of the chart sheet from one chart to the next, and the size of a chart, px.
const CHART_ROWS: u32 = 22;
const CHART_SIZE: (u32, u32) = (960, 420);
/// Line colours by place: told apart without colour by their dash.
const COLOURS: [u32; 6] = [0x0000_72B2, 0x00D5_5E00, 0x0000_9E73, 0x00CC_79A7, 0x00E6_9F00, 0x0056_B4E9];

/// A curve with the panel that it stands in.
type Placed<'a> = (&'a Panel, &'a Curve);

/// Adds both sheets; none where there is no diagram.
pub(super) fn charts(book: &mut Workbook, panels: &[Panel], looks: &Looks) -> Result<()> {
    let curves: Vec<Placed<'_>> = panels
        .iter()
        .flat_map(|panel| panel.curves.iter().map(move |curve| (panel, curve)))
        .take(MOST_CURVES)
        .collect();
    if curves.is_empty() {
        return Ok(());
    }
    let sheet = book.add_worksheet();
    sheet.set_name("Charts")?;
    let mut first = 0;
    for (number, panel) in (0..).zip(panels) {
        let n_curves = panel.curves.len().min(curves.len() - first);
        if n_curves > 0 {
            sheet.insert_chart(number * CHART_ROWS, 0, &chart(panel, first, n_curves)?)?;
        }
        first += n_curves;
    }
    let sheet = book.add_worksheet_with_low_memory()?;
    sheet.set_name(POINTS)?;
    points(sheet, &curves, looks)
}

fn chart(panel: &Panel, first: usize, n_curves: usize) -> Result<Chart> {
    let mut chart = Chart::new(ChartType::ScatterStraight);
    chart.title().set_name(&panel.title);
    chart.x_axis().set_name("seconds from time zero").set_crossing(rust_xlsxwriter::ChartAxisCrossing::Min);
    chart.y_axis().set_name(&panel.unit).set_crossing(rust_xlsxwriter::ChartAxisCrossing::Min);
    chart.legend().set_position(rust_xlsxwriter::ChartLegendPosition::Bottom);
    chart.set_width(CHART_SIZE.0).set_height(CHART_SIZE.1).set_alt_text(format!("{} over time", panel.title));
    for (place, curve) in panel.curves.iter().take(n_curves).enumerate() {
        let last = HEAD_ROWS + u32::try_from(curve.points.len().max(1) - 1).unwrap_or(u32::MAX - HEAD_ROWS);
        let column = column(first + place);
        let mut line = ChartLine::new();
        line.set_width(1.5).set_color(COLOURS[place % COLOURS.len()]);
        if curve.source == "sensor" {
            line.set_dash_type(ChartLineDashType::Dash);
        }
        chart
            .add_series()
            .set_name(&curve.label)
            .set_categories((POINTS, HEAD_ROWS, column, last, column))
            .set_values((POINTS, HEAD_ROWS, column + 1, last, column + 1))
            .set_format(ChartFormat::new().set_line(&line));
    }
    Ok(chart)
}

/// First column of the n-th curve.
fn column(n: usize) -> u16 {
    COLUMNS * u16::try_from(n).unwrap_or(0)
}

/// Points row by row, since the sheet is written as it goes.
fn points(sheet: &mut Worksheet, curves: &[Placed<'_>], looks: &Looks) -> Result<()> {
    sheet.set_freeze_panes(HEAD_ROWS, 0)?;
    for (n, (panel, curve)) in curves.iter().enumerate() {
        let name = format!("{}: {}", panel.title, curve.label);
        for (step, what) in (0..).zip(["time", "value", "half-width of the 95 % interval"]) {
            sheet.write_string_with_format(0, column(n) + step, format!("{name}, {what}"), &looks.head)?;
        }
    }
    for (n, (panel, _)) in curves.iter().enumerate() {
        for (step, unit) in (0..).zip(["s", panel.unit.as_str(), panel.unit.as_str()]) {
            sheet.write_string_with_format(1, column(n) + step, unit, &looks.unit)?;
        }
    }
    let longest = curves.iter().map(|(_, curve)| curve.points.len()).max().unwrap_or(0);
    for (line, row) in (HEAD_ROWS..1_048_576).zip(0..longest) {
        for (n, (_, curve)) in curves.iter().enumerate() {
            let Some(point) = curve.points.get(row) else { continue };
            sheet.write_number(line, column(n), point.time_s)?;
            if let Some(value) = point.value {
                sheet.write_number(line, column(n) + 1, value)?;
            }
            let half_width = curve.band.as_ref().and_then(|band| band.half_width.get(row).copied().flatten());
            if let Some(half_width) = half_width {
                sheet.write_number(line, column(n) + 2, half_width)?;
            }
        }
    }
    Ok(())
}
