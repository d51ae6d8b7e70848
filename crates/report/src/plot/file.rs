//! One diagram as a picture file of its own: heading, legend, and the sheet's style with its colours written out, since
//! programs that draw pictures know no style variables.

use super::{Diagram, LEFT, PlotFrame, WIDTH, curve_styles, svg::Svg};
use crate::people::panel_in_units;
use filmgauge_results::{Panel, UnitSystem};

const SHEET_STYLE: &str = include_str!("../sheet.css");
const PLOT_STYLE: &str = include_str!("plot.css");
/// What the page gives the sheet's diagrams: paper and headings.
const FILE_STYLE: &str =
    ".paper { fill: var(--paper); }\n.plot .title { fill: var(--ink); font: 600 16px var(--sans); }\n";

const MARGIN: f64 = 14.0;
const TITLE_AT: f64 = 26.0;
const PANEL_TITLE_AT: f64 = 46.0;
const LEGEND_AT: f64 = 66.0;
const LEGEND_ROW: f64 = 18.0;
const KEY_WIDTH: f64 = 34.0;
/// Generous width of a letter of the legend, so that entries never touch whatever the font.
const LETTER_WIDTH: f64 = 7.0;

/// `panel` as the text of an SVG file that needs nothing beside it: `title` above (nothing when empty), then the panel's
/// own title, legend and curves in the units of `units`. Fonts are asked for by name. The same panel gives the same bytes.
#[must_use]
pub fn panel_svg_file(panel: &Panel, title: &str, units: UnitSystem) -> String {
    let panel = panel_in_units(panel, units);
    let diagram = Diagram::laid(&panel, &PlotFrame::around(std::slice::from_ref(&panel)));
    let entries = legend(&panel);
    let rows = entries.last().map_or(0.0, |entry| entry.row + 1.0);
    let top = LEGEND_AT + LEGEND_ROW * rows;
    let height = top + diagram.height + MARGIN;
    let heading = if title.is_empty() { panel.title.clone() } else { format!("{title}: {}", panel.title) };
    let width = WIDTH + 2.0 * MARGIN;
    let mut svg = Svg::new("plot", width, height, &heading, &diagram.described(), 1);
    svg.style(&written_out(&format!("{PLOT_STYLE}{FILE_STYLE}")));
    svg.rectangle("paper", width, height);
    svg.open_moved(MARGIN, 0.0);
    svg.text("title", (0.0, TITLE_AT), title);
    svg.text("label", (0.0, PANEL_TITLE_AT), &panel.title);
    for entry in &entries {
        let y = LEGEND_AT + LEGEND_ROW * entry.row;
        svg.path(&format!("curve {}", entry.class), &format!("M{:.2} {:.2}h{KEY_WIDTH}", entry.x, y - 4.0));
        svg.text("label", (entry.x + KEY_WIDTH + 6.0, y), &entry.label);
    }
    svg.open_moved(0.0, top);
    diagram.draw(&mut svg);
    svg.close_group();
    svg.close_group();
    svg.finish() + "\n"
}

struct Entry {
    class: String,
    label: String,
    x: f64,
    row: f64,
}

/// Legend entries from left to right, in as many rows as they need.
fn legend(panel: &Panel) -> Vec<Entry> {
    let (mut x, mut row) = (LEFT, 0.0);
    let mut entries = Vec::with_capacity(panel.curves.len());
    for (curve, style) in panel.curves.iter().zip(curve_styles(&panel.curves)) {
        let letters: f64 = curve.label.chars().map(|_| LETTER_WIDTH).sum();
        let width = KEY_WIDTH + letters + 24.0;
        if x > LEFT && x + width > WIDTH {
            (x, row) = (LEFT, row + 1.0);
        }
        entries.push(Entry { class: style.class(), label: curve.label.clone(), x, row });
        x += width;
    }
    entries
}

/// `style` with each variable replaced by its value on light paper.
pub(crate) fn written_out(style: &str) -> String {
    let light = SHEET_STYLE.split(['{', '}']).nth(1).unwrap_or_default();
    let values = light.split(';').filter_map(|line| line.split_once(':'));
    values.fold(style.to_owned(), |style, (name, value)| {
        style.replace(&format!("var({})", name.trim()), value.trim())
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    #[test]
    fn the_file_stands_alone() {
        let panel = &fixture::results().panels[0];
        let file = panel_svg_file(panel, "HB-014 <a>", UnitSystem::Si);
        assert!(file.starts_with("<svg ") && file.ends_with("</svg>\n"));
        assert!(!file.contains("var("), "every colour and font is written out");
        for text in ["HB-014 &lt;a&gt;", "Speed along the path", "car, film", "car, sensor", "m/s", "contact"]
        {
            assert!(file.contains(text), "{text}");
        }
        assert!(file.contains("font: 12px \"Inter\""), "fonts by name");
        assert!(file.contains(".curve.s1 { stroke: #0072b2; }"));
        assert_eq!(file.matches("<g ").count(), file.matches("</g>").count());
        assert_eq!(file, panel_svg_file(panel, "HB-014 <a>", UnitSystem::Si));
    }

    #[test]
    fn units_titles_and_empty_panels() {
        let mut panel = fixture::results().panels.remove(0);
        assert!(panel_svg_file(&panel, "", UnitSystem::Us).contains(">mi/h</text>"));
        panel.curves.iter_mut().for_each(|curve| curve.points.clear());
        assert!(panel_svg_file(&panel, "", UnitSystem::Si).contains("No values to draw."));
    }

    #[test]
    fn a_long_legend_breaks_into_rows() {
        let mut panel = fixture::results().panels.remove(0);
        panel.curves = vec![panel.curves[0].clone(); 9];
        let entries = legend(&panel);
        assert!(entries.last().unwrap().row >= 1.0);
        assert!(entries.iter().all(|entry| entry.x < WIDTH));
    }
}
