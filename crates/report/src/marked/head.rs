//! The words above the film: test and camera, time with its ±, frame, slowdown, and which targets have no mark and why; and those right below
//! it: the scale, and what the shapes of marks mean.

use super::canvas::{Anchor, Canvas, Letters, fitted};
use super::film::shape;
use super::ink::{self, MarkLook};
use super::layout::Layout;
use super::stored::FilmResults;
use crate::display::typeset;
use crate::pdf::fonts::Face;
use crate::rounding::{at_place, last_place};
use crate::sheet::strip::round_below;
use filmgauge_quantities::{COVERAGE_95, Length};
use filmgauge_results::UnitSystem;

/// Finest and coarsest last digit of a time, as a power of ten of a millisecond.
const FINEST: i32 = -4;
const COARSEST: i32 = 0;

/// What stands in every picture alike.
pub(super) struct HeadWords<'a> {
    /// Test id.
    pub(super) test: &'a str,
    /// Its title.
    pub(super) title: &'a str,
    /// How much slower than real time, in words.
    pub(super) slower: &'a str,
    /// First and last frame.
    pub(super) frames: [u32; 2],
    pub(super) units: UnitSystem,
}

/// Draws what changes from frame to frame and what does not.
pub(super) struct Head<'a> {
    pub(super) layout: &'a Layout,
    pub(super) stored: &'a FilmResults,
    pub(super) words: HeadWords<'a>,
}

impl Head<'_> {
    fn letters(&self, face: Face, size: f32, ink: super::canvas::Ink) -> Letters {
        Letters { face, size: size * self.layout.em, ink, rim: 0.0 }
    }

    /// Base line of the n-th line.
    fn base(&self, line: f32) -> f32 {
        (1.4 + 1.38 * line) * self.layout.em
    }

    fn edges(&self) -> (f32, f32) {
        let room = 0.7 * self.layout.em;
        (room, self.layout.width as f32 - room)
    }

    /// The part that is the same in every picture: test, camera, title, scale, what shapes mean.
    pub(super) fn draw_standing(&self, canvas: &mut Canvas<'_>) {
        let (left, _) = self.edges();
        let half = 0.5 * self.layout.width as f32;
        let strong = self.letters(Face::Bold, 1.1, ink::WORDS);
        let camera = format!("{} · camera {}", self.words.test, self.stored.drawing.camera);
        canvas.words(&fitted(&camera, strong, 0.95 * half), (left, self.base(0.0)), Anchor::Start, strong);
        let soft = self.letters(Face::Plain, 0.9, ink::SOFT);
        let title = fitted(self.words.title, soft, 0.95 * half);
        canvas.words(&title, (left, self.base(1.0)), Anchor::Start, soft);
        self.draw_shapes(canvas);
        self.draw_scale(canvas);
    }

    /// What the shapes of marks mean, as far as they occur, from the right edge.
    fn draw_shapes(&self, canvas: &mut Canvas<'_>) {
        let soft = self.letters(Face::Plain, 0.9, ink::SOFT);
        let (base, (_, mut at)) = (self.layout.below, self.edges());
        let all = || self.stored.marks.iter().flat_map(|(_, marks)| marks);
        for look in MarkLook::ALL.into_iter().rev().filter(|look| all().any(|mark| mark.look == *look)) {
            canvas.words(look.word(), (at, base), Anchor::End, soft);
            at -= soft.face.width(look.word(), soft.size) + 0.85 * self.layout.em;
            let pen = (0.14 * self.layout.em, 0.0);
            let middle = (at, base - 0.32 * self.layout.em);
            shape(canvas, look, middle, 0.42 * self.layout.em, (ink::of_state(look), pen));
            at -= 1.2 * self.layout.em;
        }
    }

    /// A bar of a round length in the board's plane, from the left edge.
    fn draw_scale(&self, canvas: &mut Canvas<'_>) {
        let (layout, (left, _)) = (self.layout, self.edges());
        let Some(metres_per_px) = self.stored.drawing.metres_per_px else { return };
        let film_px = layout.film_width as f64 / layout.factor as f64;
        let across = Length::from_m(0.25 * film_px * metres_per_px);
        let (unit, most) = match self.words.units {
            UnitSystem::Si => ("m", across.as_m()),
            UnitSystem::Us => ("ft", across.as_ft()),
        };
        let Some((length, place)) = round_below(most) else { return };
        let bar = 0.25 * layout.film_width as f32 * (length / most) as f32;
        let (y, tick, width) = (layout.below - 0.32 * layout.em, 0.4 * layout.em, 0.16 * layout.em);
        canvas.block([left, y - 0.5 * width, bar, width], ink::WORDS);
        for x in [left, left + bar - width] {
            canvas.block([x, y - tick, width, 2.0 * tick], ink::WORDS);
        }
        let text = format!("{} {unit} in the board's plane", typeset(&at_place(length, place.min(0))));
        let letters = self.letters(Face::Plain, 0.9, ink::WORDS);
        canvas.words(&text, (left + bar + 0.6 * layout.em, layout.below), Anchor::Start, letters);
    }

    /// The part of one frame: its time and number, and the targets without a mark.
    pub(super) fn draw_frame(&self, canvas: &mut Canvas<'_>, frame: u32, is_damaged: bool) {
        let (left, right) = self.edges();
        let strong = self.letters(Face::Bold, 1.1, ink::WORDS);
        let time = self.time(frame).unwrap_or_default();
        canvas.words(&time, (right, self.base(0.0)), Anchor::End, strong);
        let soft = self.letters(Face::Plain, 0.9, ink::WORDS);
        let [first, last] = self.words.frames;
        let number = format!("frame {frame} ({first} to {last}) · {}", self.words.slower);
        canvas.words(&number, (right, self.base(1.0)), Anchor::End, soft);
        let alarm = self.letters(Face::Plain, 0.9, ink::ALARM);
        let told = self.told(frame, is_damaged, alarm, right - left);
        canvas.words(&told, (left, self.base(2.0)), Anchor::Start, alarm);
    }

    /// Such as "12.30 ± 0.02 ms after time zero", to the same digit in every frame.
    fn time(&self, frame: u32) -> Option<String> {
        let drawing = &self.stored.drawing;
        let [first, last] = self.words.frames.map(|frame| frame as usize);
        let ms = 1000.0 * drawing.times_s.get(frame as usize)?;
        let half_width = |u_s: &f64| 1000.0 * COVERAGE_95 * u_s;
        let widest = drawing.u_times_s.iter().take(last + 1).skip(first).map(half_width).fold(0.0, f64::max);
        let place = last_place(widest).unwrap_or(-3).clamp(FINEST, COARSEST);
        let own = half_width(drawing.u_times_s.get(frame as usize)?);
        let side = if ms < 0.0 { "before" } else { "after" };
        Some(format!("{} ± {} ms {side} time zero", at_place(ms.abs(), place), at_place(own, place)))
    }

    /// Why there are fewer marks than targets, within `room` px.
    fn told(&self, frame: u32, is_damaged: bool, letters: Letters, room: f32) -> String {
        let gaps = self.stored.gaps.iter().filter(|gap| gap.frames[0] <= frame && frame <= gap.frames[1]);
        let each: Vec<String> = gaps.map(|gap| format!("{} {}", gap.target, gap.cause)).collect();
        let damaged = if is_damaged { "Damaged frame. " } else { "" };
        let all = if each.is_empty() { String::new() } else { format!("No mark: {}", each.join(", ")) };
        typeset(&fitted(&format!("{damaged}{all}"), letters, room))
    }
}
