//! The chosen curves below the film, in step with it: bands and gaps as on the sheet, a line at this frame's instant.

use super::canvas::{Anchor, Canvas, Letters, through};
use super::ink;
use super::layout::Layout;
use crate::display::typeset;
use crate::pdf::fonts::Face;
use crate::plot::{Axis, Place, Span, band_runs, curve_styles, line_runs, value_span};
use crate::rounding::{at_place, last_place, significant};
use filmgauge_results::{Curve, Panel};
use resvg::tiny_skia::PathBuilder;

/// Opacity of a band, as in the sheet's drawings.
const BAND: u8 = 56;
/// Room left of a diagram for the numbers of its axis, ems.
const LEFT: f32 = 4.3;

/// One diagram laid out; its values are in the units shown.
#[derive(Debug, Clone)]
pub(super) struct Foot {
    panel: Panel,
    /// Time across, ms.
    across: Axis,
    /// Values; `None` where there is nothing to draw.
    up: Option<Axis>,
    /// Top of the diagram.
    top: f32,
    is_first: bool,
    is_last: bool,
}

impl Foot {
    /// The n-th diagram, over times from and to, s.
    pub(super) fn of(mut panel: Panel, layout: &Layout, n: usize, [from_s, to_s]: [f64; 2]) -> Self {
        for curve in &mut panel.curves {
            within(curve, [from_s, to_s]);
        }
        panel.curves.retain(|curve| curve.points.iter().any(|point| point.value.is_some()));
        panel.markers.retain(|marker| (from_s..=to_s).contains(&marker.time_s));
        let [top, bottom] = layout.panels[n];
        let left = f64::from(LEFT * layout.em);
        let right = layout.width as f64 - f64::from(1.2 * layout.em);
        let (low, high) = (1000.0 * from_s, 1000.0 * to_s);
        let span = Span { low, high: if high > low { high } else { low + 1.0 } };
        let across = Axis::new(span, left, right, 10);
        let up = value_span(&panel).map(|span| Axis::new(span, f64::from(bottom), f64::from(top), 4));
        Self { panel, across, up, top, is_first: n == 0, is_last: n + 1 == layout.panels.len() }
    }

    /// The part that is the same in every picture.
    pub(super) fn draw_standing(&self, canvas: &mut Canvas<'_>, em: f32) {
        let small = Letters { face: Face::Plain, size: 0.82 * em, ink: ink::SOFT, rim: 0.0 };
        let (left, right) = (self.across.from() as f32, self.across.to() as f32);
        let Some(up) = &self.up else {
            let text = format!("{}: no values in these frames", self.panel.title);
            canvas.words(&text, (left, self.top - 0.6 * em), Anchor::Start, small);
            return;
        };
        let (top, bottom) = (up.to() as f32, up.from() as f32);
        for tick in up.ticks() {
            let y = tick.at as f32;
            canvas
                .block([left, y - 0.5, right - left, 1.0], if tick.is_zero { ink::SOFT } else { ink::RULE });
            canvas.words(&tick.label, (left - 0.45 * em, y + 0.29 * em), Anchor::End, small);
        }
        for tick in self.across.ticks() {
            let x = tick.at as f32;
            canvas.block([x - 0.5, bottom, 1.0, 0.35 * em], ink::SOFT);
            if self.is_last {
                canvas.words(&tick.label, (x, bottom + 1.25 * em), Anchor::Middle, small);
            }
        }
        canvas.block([left, bottom - 0.5, right - left, 1.0], ink::SOFT);
        if self.is_last {
            canvas.words("ms after time zero", (right, bottom + 2.3 * em), Anchor::End, small);
        }
        canvas.words(&self.panel.unit, (left - 0.45 * em, top - 0.55 * em), Anchor::End, small);
        for marker in &self.panel.markers {
            let label = if self.is_first { marker.label.as_str() } else { "" };
            self.draw_marker(canvas, marker.time_s, label, (top, bottom, em));
        }
        self.draw_curves(canvas, up, em);
    }

    fn draw_marker(
        &self,
        canvas: &mut Canvas<'_>,
        time_s: f64,
        label: &str,
        (top, bottom, em): (f32, f32, f32),
    ) {
        let x = self.across.place(1000.0 * time_s) as f32;
        if let Some(path) = through([(x, top), (x, bottom)]) {
            canvas.line(&path, ink::SOFT, 1.0_f32.max(0.07 * em), Some(&[0.15 * em, 0.35 * em]));
        }
        let small = Letters { face: Face::Plain, size: 0.78 * em, ink: ink::SOFT, rim: 0.0 };
        canvas.words(label, (x + 0.4 * em, 0.5 * (top + bottom)), Anchor::Start, small);
    }

    fn draw_curves(&self, canvas: &mut Canvas<'_>, up: &Axis, em: f32) {
        let styles = curve_styles(&self.panel.curves);
        let kept = |y: f64| y.clamp(up.to(), up.from()) as f32;
        for (curve, style) in self.panel.curves.iter().zip(&styles) {
            for run in band_runs(curve, &self.across, up) {
                let high = run.iter().map(|place: &Place| (place.x as f32, kept(place.high)));
                let low = run.iter().rev().map(|place| (place.x as f32, kept(place.low)));
                if let Some(path) = through(high.chain(low)) {
                    canvas.area(&path, ink::of_curve(style.colour, style.dash.is_some()), BAND);
                }
            }
        }
        for (curve, style) in self.panel.curves.iter().zip(&styles) {
            let ink = ink::of_curve(style.colour, style.dash.is_some());
            let dash = style.dash.map(|dash| dashes(dash, em));
            for run in line_runs(curve, &self.across, up) {
                let points: Vec<_> = run.iter().map(|place| (place.x as f32, kept(place.low))).collect();
                match (through(points.iter().copied()), &points[..]) {
                    (Some(path), _) => {
                        let width = if dash.is_some() { 0.09 } else { 0.14 };
                        canvas.line(&path, ink, (width * em).max(1.2), dash.as_ref().map(|dash| &dash[..]));
                    }
                    // A lone value between two gaps.
                    (None, [place, ..]) => dot(canvas, *place, 0.1 * em, ink),
                    (None, []) => {}
                }
            }
        }
    }

    /// The part of one instant: a line, and the value of each film curve there with its ±.
    pub(super) fn draw_instant(&self, canvas: &mut Canvas<'_>, layout: &Layout, time_s: f64) {
        let Some(up) = &self.up else { return };
        let em = layout.em;
        let (top, bottom) = (up.to() as f32, up.from() as f32);
        let x = self.across.place(1000.0 * time_s) as f32;
        canvas.block([x - 0.06 * em, top - 0.2 * em, 0.12 * em, bottom - top + 0.2 * em], ink::WORDS);
        let strong = Letters { face: Face::Bold, size: 0.9 * em, ink: ink::WORDS, rim: 0.0 };
        let base = top - 0.6 * em;
        let mut at = self.across.from() as f32;
        canvas.words(&self.panel.title, (at, base), Anchor::Start, strong);
        at += strong.face.width(&self.panel.title, strong.size) + 1.2 * em;
        let styles = curve_styles(&self.panel.curves);
        for (n, (curve, style)) in self.panel.curves.iter().zip(&styles).enumerate() {
            let letters = Letters { face: Face::Plain, size: 0.85 * em, ink: ink::WORDS, rim: 0.0 };
            let value = nearest(curve, time_s);
            let told = entry(curve, value);
            let width = 1.9 * em + letters.face.width(&told, letters.size) + 1.1 * em;
            let is_last = n + 1 == self.panel.curves.len();
            let kept = if is_last { 0.0 } else { 5.5 * em };
            if at + width + kept > layout.width as f32 {
                let more = format!("and {} more", self.panel.curves.len() - n);
                canvas.words(&more, (at, base), Anchor::Start, letters);
                break;
            }
            let ink = ink::of_curve(style.colour, style.dash.is_some());
            let y = base - 0.3 * em;
            let dash = style.dash.map(|dash| dashes(dash, em));
            if let Some(path) = through([(at, y), (at + 1.5 * em, y)]) {
                canvas.line(&path, ink, 0.16 * em, dash.as_ref().map(|dash| &dash[..]));
            }
            canvas.words(&told, (at + 1.9 * em, base), Anchor::Start, letters);
            if let Some((value, _)) = value {
                let y = up.place(value).clamp(up.to(), up.from()) as f32;
                dot(canvas, (x, y), 0.3 * em, ink);
            }
            at += width;
        }
    }
}

fn dot(canvas: &mut Canvas<'_>, (x, y): (f32, f32), radius: f32, ink: super::canvas::Ink) {
    if let Some(path) = PathBuilder::from_circle(x, y, radius) {
        canvas.area(&path, ink, 255);
    }
}

/// The sheet's dashes, in ems.
fn dashes(n: usize, em: f32) -> Vec<f32> {
    let dash: &[f32] = match n % 3 {
        0 => &[0.58, 0.33],
        1 => &[0.2, 0.25],
        _ => &[0.83, 0.25, 0.17, 0.25],
    };
    dash.iter().map(|part| part * em).collect()
}

/// Leaves the points within two times, with their band.
fn within(curve: &mut Curve, [from_s, to_s]: [f64; 2]) {
    let first = curve.points.partition_point(|point| point.time_s < from_s);
    let end = curve.points.partition_point(|point| point.time_s <= to_s);
    curve.points.truncate(end);
    curve.points.drain(..first.min(end));
    if let Some(band) = &mut curve.band {
        band.half_width.truncate(end);
        band.half_width.drain(..first.min(band.half_width.len()));
    }
}

/// Value and half-width of the curve's own point at an instant: none is made up between points, none shown in a gap.
fn nearest(curve: &Curve, time_s: f64) -> Option<(f64, Option<f64>)> {
    let after = curve.points.partition_point(|point| point.time_s < time_s);
    let away = |at: usize| curve.points.get(at).map(|point| (point.time_s - time_s).abs());
    let at = [after.wrapping_sub(1), after]
        .into_iter()
        .filter(|at| away(*at).is_some())
        .min_by(|a, b| away(*a).partial_cmp(&away(*b)).unwrap_or(std::cmp::Ordering::Equal))?;
    let spacing = match (curve.points.get(at.wrapping_sub(1)), curve.points.get(at + 1)) {
        (Some(one), Some(other)) => 0.5 * (other.time_s - one.time_s),
        (Some(one), None) => curve.points[at].time_s - one.time_s,
        (None, Some(other)) => other.time_s - curve.points[at].time_s,
        (None, None) => 0.0,
    };
    if away(at)? > 0.51 * spacing + 1e-9 {
        return None;
    }
    let half_width = curve.band.as_ref().and_then(|band| band.half_width.get(at).copied().flatten());
    Some((curve.points[at].value?, half_width))
}

/// Label of a curve, with its value for one that has a band.
fn entry(curve: &Curve, value: Option<(f64, Option<f64>)>) -> String {
    match (&curve.band, value) {
        (None, _) => curve.label.clone(),
        (Some(_), None) => format!("{} –", curve.label),
        (Some(_), Some((value, half_width))) => {
            let place = half_width.and_then(last_place);
            let told = place.map_or_else(|| significant(value, 4), |place| at_place(value, place));
            let band = half_width
                .zip(place)
                .map(|(half_width, place)| format!(" ± {}", at_place(half_width, place)));
            format!("{} {}{}", curve.label, typeset(&told), band.unwrap_or_default())
        }
    }
}
