//! Drawings on paper: diagrams with their legends, and the picture strip. Each is told in words too.

use super::content::section;
use super::fonts::known;
use super::page::{Composer, Role, What};
use super::text::{BODY, Line, Para, SOFT, STRONG};
use crate::plot::written_out;
use crate::sheet::SheetView;

const GAP: f32 = 14.0;
/// Highest drawing, as a share of the page: a caption stays on it.
const MOST_HEIGHT: f32 = 0.9;
/// Length of a legend's line, points.
const KEY: f32 = 22.0;

/// A drawing with what stands above and below it.
struct Figure<'a> {
    above: Vec<Line>,
    svg: &'a str,
    below: Vec<Line>,
    width: f32,
    height: f32,
}

impl<'a> Figure<'a> {
    fn new(pages: &Composer, width: f32, svg: &'a str, above: &Para, below: &Para) -> Self {
        let lines = |para: &Para| if para.runs.is_empty() { Vec::new() } else { para.lines(width) };
        let (across, down) = size(svg);
        let height = width * down / across;
        let most = MOST_HEIGHT * pages.whole();
        let (width, height) = if height > most { (width * most / height, most) } else { (width, height) };
        Self { above: lines(above), svg, below: lines(below), width, height }
    }

    fn whole(&self) -> f32 {
        let lines = |lines: &[Line]| lines.iter().map(Line::height).sum::<f32>();
        lines(&self.above) + self.height + lines(&self.below) + 4.0
    }

    fn draw(&self, pages: &mut Composer, x: f32, style: &str) {
        let y = pages.y();
        let mut down = 0.0;
        if !self.above.is_empty() {
            let block = pages.block(Role::Text);
            down += pages.lines(block, (x, y), self.width, &self.above);
        }
        if !self.svg.is_empty() {
            let block = pages.block(Role::Figure(told(self.svg)));
            let svg = styled(self.svg, style);
            let (width, height) = (self.width, self.height);
            pages.draw(Some(block), What::Drawing { x, y: y + down, width, height, svg });
        }
        down += self.height + 2.0;
        if !self.below.is_empty() {
            let block = pages.block(Role::Text);
            pages.lines(block, (x, y + down), self.width, &self.below);
        }
    }
}

pub(super) fn curves(pages: &mut Composer, view: &SheetView) {
    if view.curves.is_empty() {
        return;
    }
    section(pages, "Curves", view.curves_note);
    let style = written_out(&view.style);
    for panel in &view.curves {
        let figure = Figure::new(pages, pages.width(), &panel.svg, &Para::default(), &Para::default());
        pages.skip(6.0);
        pages.heading(3, &panel.title, &Para::of(&panel.title, STRONG), figure.whole() + 30.0);
        legend(pages, &panel.legend, &style);
        pages.skip(3.0);
        pages.keep(figure.whole());
        figure.draw(pages, pages.left(), &style);
        pages.skip(figure.whole() + 4.0);
    }
}

/// Entries from left to right, in as many rows as they need.
fn legend(pages: &mut Composer, entries: &[crate::sheet::curves::LegendView], style: &str) {
    let (left, width) = (pages.left(), pages.width());
    let (mut x, height) = (left, BODY.size * super::text::LEADING);
    for entry in entries {
        let line =
            Para::of(&entry.label, SOFT).lines(width - KEY - 4.0).into_iter().next().unwrap_or_default();
        let taken = KEY + 4.0 + line.ink_width() + GAP;
        if x > left && x + taken > left + width {
            pages.skip(height);
            x = left;
        }
        let y = pages.y();
        let key = format!(
            "<svg viewBox=\"0 0 34 8\" xmlns=\"http://www.w3.org/2000/svg\"><path class=\"curve {}\" d=\"M1 4L33 4\"/></svg>",
            entry.class
        );
        let drawing =
            What::Drawing { x, y: y + 3.0, width: KEY, height: KEY * 8.0 / 34.0, svg: styled(&key, style) };
        pages.draw(None, drawing);
        let block = pages.block(Role::Text);
        pages.lines(block, (x + KEY + 4.0, y), width, &[line]);
        x += taken;
    }
    pages.skip(height);
}

pub(super) fn strip(pages: &mut Composer, view: &SheetView) {
    if view.strip.is_empty() {
        return;
    }
    section(pages, "Picture strip", view.strip_note);
    let style = written_out(&view.style);
    let width = (pages.width() - GAP) / 2.0;
    let figures: Vec<Figure<'_>> = view
        .strip
        .iter()
        .map(|picture| {
            let place = format!("  {}, frame {}", picture.camera, picture.frame);
            let below = Para::of(&picture.after_contact, STRONG).and(place, SOFT);
            Figure::new(pages, width, &picture.svg, &Para::default(), &below)
        })
        .collect();
    in_pairs(pages, &figures, &style);
}

/// Two side by side, each pair on one page.
fn in_pairs(pages: &mut Composer, figures: &[Figure<'_>], style: &str) {
    let step = (pages.width() + GAP) / 2.0;
    for pair in figures.chunks(2) {
        let height = pair.iter().map(Figure::whole).fold(0.0, f32::max);
        pages.keep(height);
        let mut x = pages.left();
        for figure in pair {
            figure.draw(pages, x, style);
            x += step;
        }
        pages.skip(height + 9.0);
    }
}

/// Width and height of a drawing in its own units.
fn size(svg: &str) -> (f32, f32) {
    let numbers = svg.split("viewBox=\"").nth(1).and_then(|rest| rest.split('"').next()).unwrap_or_default();
    let numbers: Vec<f32> = numbers.split(' ').filter_map(|number| number.parse().ok()).collect();
    match numbers[..] {
        [_, _, width, height] if width > 0.0 && height > 0.0 => (width, height),
        _ => (1.0, 0.0),
    }
}

/// The drawing with the page's style inside it, and no letter that the fonts lack.
fn styled(svg: &str, style: &str) -> String {
    let Some((head, rest)) = svg.split_once('>') else { return String::new() };
    known(&format!("{head}><style>{style}</style>{rest}"))
}

/// What a drawing tells those who do not see it: its title and description.
fn told(svg: &str) -> String {
    let part = |name: &str| {
        let rest = svg.split(&format!("<{name} ")).nth(1)?.split_once('>')?.1;
        rest.split(&format!("</{name}>")).next()
    };
    let text: Vec<&str> = [part("title"), part("desc")].into_iter().flatten().collect();
    let plain = [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&#39;", "'"), ("&amp;", "&")];
    known(&plain.iter().fold(text.join(". "), |text, (sign, letter)| text.replace(sign, letter)))
}
