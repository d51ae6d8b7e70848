//! An error budget as a drawing: one bar for each source of doubt, in the finding's unit, and one for all together.

use crate::people::{BudgetLine, budget_lines, finding_words};
use crate::plot::{Axis, Span, Svg, written_out};
use crate::rounding::significant;
use filmgauge_results::{Finding, UnitSystem};

/// Width of the drawing, in drawing units, and of one letter of its text: generous, so that texts never touch.
const WIDTH: f64 = 360.0;
const LETTER: f64 = 6.6;
const TITLE_LETTER: f64 = 9.0;
const ROW: f64 = 31.0;
const TEXT_AT: f64 = 13.0;
const BAR_AT: f64 = 18.0;
const BAR_HEIGHT: f64 = 7.0;
const AXIS_HEIGHT: f64 = 40.0;
/// Room right of the longest bar, for the last tick's text.
const RIGHT: f64 = 14.0;
/// Sources that have a bar of their own; smaller ones share the last.
const MOST_BARS: usize = 7;
/// Part of the variance that a source of its own has at least: below, its bar cannot be seen.
const LEAST_SHARE: f64 = 0.001;
/// Grid lines reach so far beyond a bar; texts between the bars stay clear of them.
const GRID_BEYOND: f64 = 2.5;
const PAPER_MARGIN: f64 = 14.0;
const HEADING: f64 = 50.0;

const PLOT_STYLE: &str = include_str!("plot/plot.css");
const FILE_STYLE: &str =
    ".paper { fill: var(--paper); }\n.plot .title { fill: var(--ink); font: 600 16px var(--sans); }\n";

/// The error budget of `finding` as an SVG element for a page that holds the sheet's style; `number` makes its ids unique
/// there. `None` where no budget is stated, or one that is not finite.
pub(crate) fn budget_svg(finding: &Finding, units: UnitSystem, number: usize) -> Option<String> {
    let chart = Chart::of(finding, units)?;
    let mut svg = Svg::new("plot", WIDTH, chart.height(), &chart.title, &chart.told(), number);
    chart.draw(&mut svg);
    Some(svg.finish())
}

/// The same as the text of an SVG file that needs nothing beside it, with the finding and its value above. The same finding
/// gives the same bytes.
#[must_use]
pub fn budget_svg_file(finding: &Finding, units: UnitSystem) -> Option<String> {
    let chart = Chart::of(finding, units)?;
    let words = finding_words(finding, units);
    let (width, height) = (WIDTH + 2.0 * PAPER_MARGIN, HEADING + chart.height() + PAPER_MARGIN);
    let mut svg = Svg::new("plot", width, height, &chart.title, &chart.told(), 1);
    svg.style(&written_out(&format!("{PLOT_STYLE}{FILE_STYLE}")));
    svg.rectangle("paper", width, height);
    svg.open_moved(PAPER_MARGIN, 0.0);
    let heading = format!("{}, {}", words.title, words.subject);
    svg.text("title", (0.0, 24.0), &fitted(&heading, WIDTH, TITLE_LETTER));
    svg.text("label", (0.0, 42.0), &format!("{}: where the doubt comes from", words.value));
    svg.open_moved(0.0, HEADING);
    chart.draw(&mut svg);
    svg.close_group();
    svg.close_group();
    Some(svg.finish() + "\n")
}

struct Chart {
    title: String,
    unit: String,
    together: f64,
    bars: Vec<Bar>,
    n_sources: usize,
    axis: Axis,
}

/// One bar: what it is of, its length, and the words at its end.
struct Bar {
    class: &'static str,
    name: String,
    u: f64,
    told: String,
}

impl Chart {
    fn of(finding: &Finding, units: UnitSystem) -> Option<Self> {
        let (unit, lines) = budget_lines(finding, units);
        let together = lines.iter().fold(0.0_f64, |sum, line| sum.hypot(line.u));
        if lines.is_empty() || !(together > 0.0 && together.is_finite()) {
            return None;
        }
        let worth = lines.iter().filter(|line| line.share >= LEAST_SHARE).count().clamp(1, MOST_BARS);
        // A last one alone takes no more room under its own name.
        let n_own = if worth + 1 >= lines.len() { lines.len() } else { worth };
        let bar = |line: &BudgetLine| Bar {
            class: "doubt",
            name: line.source.clone(),
            u: line.u,
            told: told(line.u, &unit, Some(line.share)),
        };
        let mut bars = vec![Bar {
            class: "together",
            name: "all together".into(),
            u: together,
            told: told(together, &unit, None),
        }];
        bars.extend(lines[..n_own].iter().map(bar));
        let rest = &lines[n_own..];
        if !rest.is_empty() {
            let u = rest.iter().fold(0.0_f64, |sum, line| sum.hypot(line.u));
            let share = rest.iter().map(|line| line.share).sum();
            bars.push(Bar {
                class: "doubt",
                name: format!("{} smaller ones together", rest.len()),
                u,
                told: told(u, &unit, Some(share)),
            });
        }
        let words = finding_words(finding, units);
        let axis = Axis::new(Span { low: 0.0, high: together }, 0.0, WIDTH - RIGHT, 5);
        let title = format!("{}, {}: where the doubt comes from", words.title, words.subject);
        Some(Self { title, unit, together, bars, n_sources: lines.len(), axis })
    }

    fn height(&self) -> f64 {
        ROW * self.bars.len() as f64 + AXIS_HEIGHT
    }

    /// The drawing in words, for those who do not see it.
    fn told(&self) -> String {
        let sources = self.bars[1..].iter().map(|bar| format!("{}, {}", bar.name, bar.told));
        format!(
            "Bars of one standard uncertainty from {} sources, greatest first, with their part of the variance: {}. Together {}.",
            self.n_sources,
            sources.collect::<Vec<_>>().join("; "),
            told(self.together, &self.unit, None)
        )
    }

    fn draw(&self, svg: &mut Svg) {
        let bottom = ROW * self.bars.len() as f64;
        for tick in self.axis.ticks() {
            for n in 0..self.bars.len() {
                let top = ROW * n as f64 + BAR_AT - GRID_BEYOND;
                let line = if tick.is_zero { "zero" } else { "grid" };
                svg.line(line, (tick.at, top), (tick.at, top + BAR_HEIGHT + 2.0 * GRID_BEYOND));
            }
            let class = if tick.is_zero { "tick" } else { "tick middle" };
            svg.text(class, (tick.at, bottom + 14.0), &tick.label);
        }
        for (n, bar) in self.bars.iter().enumerate() {
            let top = ROW * n as f64;
            let taken = bar.told.chars().count() as f64 * LETTER + 12.0;
            svg.text("label", (0.0, top + TEXT_AT), &fitted(&bar.name, WIDTH - taken, LETTER));
            svg.text("tick end", (WIDTH, top + TEXT_AT), &bar.told);
            let length = self.axis.place(bar.u) - self.axis.from();
            let y = top + BAR_AT;
            svg.path(bar.class, &format!("M0 {y:.2}h{length:.2}v{BAR_HEIGHT}h-{length:.2}Z"));
        }
        let unit = if self.unit.is_empty() { String::new() } else { format!(", {}", self.unit) };
        svg.text("unit", (0.0, bottom + 31.0), &format!("one standard uncertainty{unit}"));
    }
}

/// "0.048 m/s, 88 %".
fn told(u: f64, unit: &str, share: Option<f64>) -> String {
    let number = format!("{} {unit}", significant(u, 2)).trim_end().to_owned();
    match share.map(|share| 100.0 * share) {
        None => number,
        Some(percent) if percent > 1e-9 && percent < 0.5 => format!("{number}, < 1 %"),
        Some(percent) => format!("{number}, {percent:.0} %"),
    }
}

/// As much of a text as fits into a width; the table beside the drawing holds all of it.
fn fitted(text: &str, width: f64, letter: f64) -> String {
    let fitting = (width / letter).max(4.0) as usize;
    if text.chars().count() <= fitting {
        return text.to_owned();
    }
    text.chars().take(fitting - 1).chain(['…']).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use filmgauge_results::Contribution;

    fn speed() -> Finding {
        fixture::results().findings.into_iter().find(|finding| finding.name == "contact_speed").unwrap()
    }

    #[test]
    fn a_bar_is_as_long_as_its_doubt() {
        let svg = budget_svg(&speed(), UnitSystem::Si, 7).unwrap();
        // 0.048, 0.0172 and 0.003 m/s, together √(0.048² + 0.0172² + 0.003²) = 0.05108: bars of 346 units times u over that.
        let lengths: Vec<f64> =
            svg.split("v7h-").skip(1).map(|rest| rest.split('Z').next().unwrap().parse().unwrap()).collect();
        for (length, expected) in lengths.iter().zip([346.0, 325.2, 116.5, 20.3]) {
            assert!((length - expected).abs() < 0.1, "{lengths:?}");
        }
        for text in
            ["0.048 m/s, 88 %", "all together", "plane offset of car", "id=\"t7\"", "Together 0.051 m/s."]
        {
            assert!(svg.contains(text), "{text}: {svg}");
        }
        assert!(budget_svg(&speed(), UnitSystem::Us, 7).unwrap().contains("0.11 mi/h, 88 %"));
    }

    #[test]
    fn the_file_stands_alone_and_small_sources_share_a_bar() {
        let source = |n: u32| Contribution { source: format!("source <{n}>"), u: 0.01 * f64::from(n) };
        let many = Finding { budget: (1..=12).map(source).collect(), ..speed() };
        let file = budget_svg_file(&many, UnitSystem::Si).unwrap();
        assert!(file.starts_with("<svg ") && file.ends_with("</svg>\n") && !file.contains("var("), "{file}");
        assert!(file.contains("5 smaller ones together") && file.contains("source &lt;12&gt;"), "{file}");
        assert!(file.contains("from 12 sources"));
        assert_eq!(file.matches("<g ").count(), file.matches("</g>").count());
        assert_eq!(file, budget_svg_file(&many, UnitSystem::Si).unwrap());
    }

    #[test]
    fn nothing_is_drawn_of_nothing() {
        let none = Finding { budget: Vec::new(), ..speed() };
        assert!(budget_svg(&none, UnitSystem::Si, 1).is_none());
        for u in [0.0, f64::NAN, f64::INFINITY] {
            let odd = Finding { budget: vec![Contribution { source: "marks".into(), u }], ..speed() };
            assert!(budget_svg_file(&odd, UnitSystem::Si).is_none(), "{u}");
        }
    }

    #[test]
    fn a_long_name_is_cut_where_the_figures_begin() {
        assert_eq!(fitted("marks", 100.0, LETTER), "marks");
        assert_eq!(fitted(&"long ".repeat(30), 66.0, LETTER), "long long…");
    }
}
