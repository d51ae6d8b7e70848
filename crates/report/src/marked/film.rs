//! The film itself with what is drawn over it: trails, axes and points of bodies, marks with their names.

use super::canvas::{Canvas, Letters, through};
use super::ink::{self, MarkLook};
use super::layout::Layout;
use super::names::Names;
use super::stored::{FilmResults, Mark};
use crate::pdf::fonts::Face;
use filmgauge_quantities::{GreyPixels, GreyView};
use filmgauge_results::{BodyAxes, FilmPath, PathKind};
use resvg::tiny_skia::{Path, PathBuilder};

/// Half the size of a mark's shape in hundredths of the film's width, as in the sheet's picture strip.
const MARK_RADIUS: f32 = 1.05;

/// Which rows of the whole picture the rows of a view are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Rows {
    /// All of them.
    #[default]
    All,
    /// Every other one, from row 0 or row 1: a field. The rows between repeat those above them.
    EveryOther {
        /// 0 or 1.
        first: usize,
    },
}

impl Rows {
    fn of_view(self, row: usize, n_rows: usize) -> usize {
        match self {
            Self::All => row,
            Self::EveryOther { first } => (row.saturating_sub(first) / 2).min(n_rows - 1),
        }
    }

    /// Rows of the whole picture for a view of `n_rows`.
    pub(super) fn whole(self, n_rows: usize) -> usize {
        match self {
            Self::All => n_rows,
            Self::EveryOther { .. } => 2 * n_rows,
        }
    }
}

/// Lays the film's grey levels into the picture: full scale becomes white, nothing is stretched or smoothed.
pub(super) fn lay(canvas: &mut Canvas<'_>, layout: &Layout, view: &GreyView<'_>, rows: Rows) {
    let (width, factor) = (layout.width, layout.factor);
    let scale = 255.0 / view.full_scale();
    let bytes = canvas.bytes();
    let mut greys = vec![0_u8; view.width()];
    for row in 0..rows.whole(view.height()) {
        grey_row(view, rows.of_view(row, view.height()), scale, &mut greys);
        let from = (layout.film_top + row * factor) * width * 4;
        for (pixels, grey) in bytes[from..].chunks_exact_mut(4 * factor).zip(&greys) {
            pixels.chunks_exact_mut(4).for_each(|pixel| pixel.copy_from_slice(&[*grey, *grey, *grey, 255]));
        }
        for again in 1..factor {
            bytes.copy_within(from..from + 4 * factor * view.width(), from + again * width * 4);
        }
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rounded and clamped to 0..=255")]
fn grey_row(view: &GreyView<'_>, row: usize, scale: f32, greys: &mut [u8]) {
    let from = row * view.stride();
    let byte = |level: f32| (level * scale).round().clamp(0.0, 255.0) as u8;
    match view.pixels() {
        GreyPixels::Eight(samples) if view.bits() == 8 => {
            greys.copy_from_slice(&samples[from..from + greys.len()]);
        }
        GreyPixels::Eight(samples) => {
            greys.iter_mut().zip(&samples[from..]).for_each(|(grey, level)| *grey = byte(f32::from(*level)));
        }
        GreyPixels::Sixteen(samples) => {
            greys.iter_mut().zip(&samples[from..]).for_each(|(grey, level)| *grey = byte(f32::from(*level)));
        }
    }
}

/// Draws what belongs to one frame.
pub(super) struct Overlay<'a> {
    pub(super) layout: &'a Layout,
    pub(super) stored: &'a FilmResults,
    /// Frames of a trail.
    pub(super) trail: u32,
}

impl Overlay<'_> {
    pub(super) fn draw(&self, canvas: &mut Canvas<'_>, frame: u32) {
        for (_, marks) in &self.stored.marks {
            self.trail(canvas, marks, frame);
        }
        for path in &self.stored.drawing.paths {
            self.path(canvas, path, frame);
        }
        for axes in &self.stored.drawing.axes {
            self.axes(canvas, axes, frame);
        }
        let here =
            |marks: &[Mark]| marks.binary_search_by_key(&frame, |mark| mark.frame).ok().map(|at| marks[at]);
        let marks: Vec<(&str, Mark)> = self
            .stored
            .marks
            .iter()
            .filter_map(|(target, marks)| Some((target.as_str(), here(marks)?)))
            .collect();
        let radius = MARK_RADIUS * self.step();
        for (_, mark) in &marks {
            let ink = ink::of_state(mark.look);
            shape(canvas, mark.look, self.layout.place(mark.at), radius, (ink, self.pen()));
        }
        let mut names = Names::new(self.layout, self.letters(ink::OVER));
        marks.iter().for_each(|(_, mark)| names.keep_free(self.layout.place(mark.at), radius));
        for (target, mark) in &marks {
            names.put(canvas, target, (self.layout.place(mark.at), radius), ink::OVER);
        }
        for path in &self.stored.drawing.paths {
            if let Some(here) = path.places.get(frame as usize).copied().flatten() {
                let name = path.label.split(',').next().unwrap_or_default();
                names.put(canvas, name, (self.layout.place(here), 0.8 * self.step()), ink::BODY);
            }
        }
    }

    /// A hundredth of the film's width.
    fn step(&self) -> f32 {
        0.01 * self.layout.width as f32
    }

    /// Width of a line and of the rim on each side.
    fn pen(&self) -> (f32, f32) {
        ((0.22 * self.step()).max(1.4), (0.12 * self.step()).max(0.8))
    }

    fn letters(&self, ink: super::canvas::Ink) -> Letters {
        Letters { face: Face::Bold, size: 0.92 * self.layout.em, ink, rim: (0.13 * self.layout.em).max(1.4) }
    }

    /// Lines through the marks of the last frames, broken at gaps.
    fn trail(&self, canvas: &mut Canvas<'_>, marks: &[Mark], frame: u32) {
        let after = marks.partition_point(|mark| mark.frame <= frame);
        let from = marks.partition_point(|mark| mark.frame < frame.saturating_sub(self.trail));
        for run in marks[from..after].chunk_by(|one, next| next.frame == one.frame + 1) {
            let points = run.iter().map(|mark| self.layout.place(mark.at));
            self.thin(canvas, through(points), ink::of_state(run[run.len() - 1].look));
        }
    }

    fn thin(&self, canvas: &mut Canvas<'_>, path: Option<Path>, ink: super::canvas::Ink) {
        let (width, rim) = self.pen();
        if let Some(path) = path {
            canvas.line_on_film(&path, ink, (0.7 * width, 0.7 * rim), None);
        }
    }

    /// A body's point or the loose occupant, with its way in the last frames.
    fn path(&self, canvas: &mut Canvas<'_>, path: &FilmPath, frame: u32) {
        let frame = frame as usize;
        let Some(here) = path.places.get(frame).copied().flatten() else { return };
        let from = frame.saturating_sub(self.trail as usize);
        for run in path.places[from..=frame].split(Option::is_none) {
            let points = run.iter().flatten().map(|place| self.layout.place(*place));
            self.thin(canvas, through(points), ink::BODY);
        }
        let (x, y) = self.layout.place(here);
        let arm = 0.8 * self.step();
        let drawn = match path.kind {
            PathKind::BodyPoint => {
                let mut cross = PathBuilder::new();
                cross.move_to(x - arm, y);
                cross.line_to(x + arm, y);
                cross.move_to(x, y - arm);
                cross.line_to(x, y + arm);
                cross.finish()
            }
            PathKind::Occupant => closed(&[(0.0, -1.2), (1.1, 0.8), (-1.1, 0.8)], (x, y), arm),
        };
        if let Some(drawn) = drawn {
            canvas.line_on_film(&drawn, ink::BODY, self.pen(), None);
        }
    }

    /// Two arrows from the body's point.
    fn axes(&self, canvas: &mut Canvas<'_>, axes: &BodyAxes, frame: u32) {
        let Some([origin, nose, second]) = axes.places.get(frame as usize).copied().flatten() else { return };
        for tip in [nose, second] {
            if let Some(arrow) = arrow(self.layout.place(origin), self.layout.place(tip), 0.9 * self.step()) {
                canvas.line_on_film(&arrow, ink::BODY, self.pen(), None);
            }
        }
    }
}

/// The shape of a mark: a ring, a square on a corner, a dashed ring. Its middle stays open.
pub(super) fn shape(
    canvas: &mut Canvas<'_>,
    look: MarkLook,
    (x, y): (f32, f32),
    radius: f32,
    (ink, pen): (super::canvas::Ink, (f32, f32)),
) {
    let path = match look {
        MarkLook::Found | MarkLook::Inferred => PathBuilder::from_circle(x, y, radius),
        MarkLook::Hand => closed(&[(0.0, -1.2), (1.2, 0.0), (0.0, 1.2), (-1.2, 0.0)], (x, y), radius),
    };
    let dash = [0.52 * radius, 0.264 * radius];
    let dash = (look == MarkLook::Inferred).then_some(dash.as_slice());
    if let Some(path) = path {
        canvas.line_on_film(&path, ink, pen, dash);
    }
}

fn closed(corners: &[(f32, f32)], (x, y): (f32, f32), size: f32) -> Option<Path> {
    let mut path = PathBuilder::new();
    for (at, (dx, dy)) in corners.iter().enumerate() {
        let (x, y) = (x + dx * size, y + dy * size);
        if at == 0 {
            path.move_to(x, y);
        } else {
            path.line_to(x, y);
        }
    }
    path.close();
    path.finish()
}

/// An arrow; `None` where both ends are one place.
fn arrow(from: (f32, f32), to: (f32, f32), head: f32) -> Option<Path> {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = dx.hypot(dy);
    if length < 1.0 {
        return None;
    }
    let (ux, uy) = (dx / length, dy / length);
    let head = head.min(0.5 * length);
    let mut path = PathBuilder::new();
    path.move_to(from.0, from.1);
    path.line_to(to.0, to.1);
    for side in [0.5, -0.5] {
        path.move_to(to.0, to.1);
        path.line_to(to.0 - head * (ux + side * uy), to.1 - head * (uy - side * ux));
    }
    path.finish()
}
