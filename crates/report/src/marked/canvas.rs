//! A picture being drawn on: lines, shapes and words in one ink each, with a dark rim where they lie over the film.

use crate::ReportError;
use crate::pdf::fonts::{Face, known};
use resvg::tiny_skia::{
    Color, FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, PixmapMut, Rect, Stroke,
    StrokeDash, Transform,
};
use ttf_parser::OutlineBuilder;

/// Red, green, blue.
pub(super) type Ink = [u8; 3];

/// Opacity of what is drawn full.
const FULL: u8 = 255;
/// Opacity of the dark rim under what lies over the film.
const RIM: u8 = 200;

/// Where a text stands against its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    /// It begins there.
    Start,
    /// Its middle is there.
    Middle,
    /// It ends there.
    End,
}

/// How words look.
#[derive(Debug, Clone, Copy)]
pub(super) struct Letters {
    pub(super) face: Face,
    /// Size of an em, px.
    pub(super) size: f32,
    pub(super) ink: Ink,
    /// Width of a dark rim, px; 0 for none.
    pub(super) rim: f32,
}

/// Pixels to draw on.
pub(super) struct Canvas<'a> {
    pixels: PixmapMut<'a>,
}

/// Empty pixels of one ink.
pub(super) fn sheet_of(width: usize, height: usize, ink: Ink) -> Result<Pixmap, ReportError> {
    let size = |n: usize| u32::try_from(n).ok();
    let pixels = size(width).zip(size(height)).and_then(|(width, height)| Pixmap::new(width, height));
    let mut pixels = pixels.ok_or_else(|| ReportError::make("a marked picture", "it is too large"))?;
    pixels.fill(Color::from_rgba8(ink[0], ink[1], ink[2], FULL));
    Ok(pixels)
}

fn paint(ink: Ink, opacity: u8) -> Paint<'static> {
    let mut paint = Paint::default();
    paint.set_color_rgba8(ink[0], ink[1], ink[2], opacity);
    paint
}

fn stroke(width: f32, dash: Option<&[f32]>) -> Stroke {
    Stroke {
        width,
        line_cap: if dash.is_some() { LineCap::Butt } else { LineCap::Round },
        line_join: LineJoin::Round,
        dash: dash.and_then(|dash| StrokeDash::new(dash.to_vec(), 0.0)),
        ..Stroke::default()
    }
}

impl<'a> Canvas<'a> {
    pub(super) fn on(pixels: &'a mut Pixmap) -> Self {
        Self { pixels: pixels.as_mut() }
    }

    /// Red, green, blue and opacity of each pixel, row by row.
    pub(super) fn bytes(&mut self) -> &mut [u8] {
        self.pixels.data_mut()
    }

    /// A line along a path.
    pub(super) fn line(&mut self, path: &Path, ink: Ink, width: f32, dash: Option<&[f32]>) {
        self.pixels.stroke_path(path, &paint(ink, FULL), &stroke(width, dash), Transform::identity(), None);
    }

    /// The same over the film: with a dark rim of `rim` px on both sides.
    pub(super) fn line_on_film(
        &mut self,
        path: &Path,
        ink: Ink,
        (width, rim): (f32, f32),
        dash: Option<&[f32]>,
    ) {
        let under = stroke(width + 2.0 * rim, None);
        self.pixels.stroke_path(path, &paint([0; 3], RIM), &under, Transform::identity(), None);
        self.line(path, ink, width, dash);
    }

    /// What a path encloses.
    pub(super) fn area(&mut self, path: &Path, ink: Ink, opacity: u8) {
        self.pixels.fill_path(path, &paint(ink, opacity), FillRule::Winding, Transform::identity(), None);
    }

    /// A filled rectangle by left, top, width and height, px; nothing where it has no size.
    pub(super) fn block(&mut self, [left, top, width, height]: [f32; 4], ink: Ink) {
        if let Some(rect) = Rect::from_xywh(left, top, width, height) {
            self.area(&PathBuilder::from_rect(rect), ink, FULL);
        }
    }

    /// Words with their base line at a place; letters that the font lacks are boxes.
    pub(super) fn words(&mut self, text: &str, (x, y): (f32, f32), anchor: Anchor, letters: Letters) {
        let text = known(text);
        let width = letters.face.width(&text, letters.size);
        let from = match anchor {
            Anchor::Start => x,
            Anchor::Middle => x - 0.5 * width,
            Anchor::End => x - width,
        };
        let scale = letters.size / letters.face.units_per_em();
        let mut pen = Outline { path: PathBuilder::new(), at: (from, y), scale };
        for letter in text.chars() {
            let width = letters.face.outline(letter, &mut pen).unwrap_or(0.0);
            pen.at.0 += width * letters.size;
        }
        let Some(path) = pen.path.finish() else { return };
        if letters.rim > 0.0 {
            let rim = stroke(2.0 * letters.rim, None);
            self.pixels.stroke_path(&path, &paint([0; 3], RIM), &rim, Transform::identity(), None);
        }
        self.area(&path, letters.ink, FULL);
    }
}

/// As much of `text` as fits into `room` px, with dots for what does not.
pub(super) fn fitted(text: &str, letters: Letters, room: f32) -> String {
    if letters.face.width(&known(text), letters.size) <= room {
        return text.to_owned();
    }
    let mut kept = text.to_owned();
    while kept.pop().is_some() {
        let dotted = format!("{} …", kept.trim_end());
        if letters.face.width(&known(&dotted), letters.size) <= room {
            return dotted;
        }
    }
    String::new()
}

/// Letters as one path.
struct Outline {
    path: PathBuilder,
    at: (f32, f32),
    scale: f32,
}

impl Outline {
    fn place(&self, x: f32, y: f32) -> (f32, f32) {
        (self.at.0 + x * self.scale, self.at.1 - y * self.scale)
    }
}

impl OutlineBuilder for Outline {
    fn move_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.place(x, y);
        self.path.move_to(x, y);
    }
    fn line_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.place(x, y);
        self.path.line_to(x, y);
    }
    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let ((x1, y1), (x, y)) = (self.place(x1, y1), self.place(x, y));
        self.path.quad_to(x1, y1, x, y);
    }
    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let ((x1, y1), (x2, y2), (x, y)) = (self.place(x1, y1), self.place(x2, y2), self.place(x, y));
        self.path.cubic_to(x1, y1, x2, y2, x, y);
    }
    fn close(&mut self) {
        self.path.close();
    }
}

/// A path through points; `None` for fewer than two.
pub(super) fn through(points: impl IntoIterator<Item = (f32, f32)>) -> Option<Path> {
    let mut path = PathBuilder::new();
    for (at, (x, y)) in points.into_iter().enumerate() {
        if at == 0 {
            path.move_to(x, y);
        } else {
            path.line_to(x, y);
        }
    }
    path.finish()
}
