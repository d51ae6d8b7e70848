//! Names over the film, each beside what it names, where no mark and no other name is hidden if there is such a place.

use super::canvas::{Anchor, Canvas, Ink, Letters};
use super::layout::Layout;

/// Left, top, right, bottom, px.
type Box = [f32; 4];

/// Names put so far.
pub(super) struct Names<'a> {
    layout: &'a Layout,
    letters: Letters,
    taken: Vec<Box>,
}

impl<'a> Names<'a> {
    pub(super) fn new(layout: &'a Layout, letters: Letters) -> Self {
        Self { layout, letters, taken: Vec::new() }
    }

    /// Keeps a circle free of names.
    pub(super) fn keep_free(&mut self, (x, y): (f32, f32), radius: f32) {
        self.taken.push([x - radius, y - radius, x + radius, y + radius]);
    }

    /// Puts a name beside a circle: the first of eight places that is within the film and hides nothing, else the first
    /// within the film, else the first.
    pub(super) fn put(
        &mut self,
        canvas: &mut Canvas<'_>,
        text: &str,
        (at, radius): ((f32, f32), f32),
        ink: Ink,
    ) {
        let width = self.letters.face.width(text, self.letters.size);
        let boxes = self.places(at, radius, width);
        let is_free = |it: &&Box| self.is_within(it) && !self.taken.iter().any(|other| overlap(it, other));
        let chosen = boxes.iter().find(is_free).or_else(|| boxes.iter().find(|it| self.is_within(it)));
        let chosen = *chosen.unwrap_or(&boxes[0]);
        self.taken.push(chosen);
        let base = chosen[3] - 0.22 * self.letters.size;
        canvas.words(text, (chosen[0], base), Anchor::Start, Letters { ink, ..self.letters });
    }

    /// Right above, right below, left above, left below, and the same farther off.
    fn places(&self, (x, y): (f32, f32), radius: f32, width: f32) -> [Box; 8] {
        let height = 1.1 * self.letters.size;
        let beside = |is_right: bool, is_above: bool, far: f32| {
            let left = if is_right { x + 0.4 * radius } else { x - 0.4 * radius - width };
            let gap = 1.15 * radius + far * height;
            let top = if is_above { y - gap - height } else { y + gap };
            [left, top, left + width, top + height]
        };
        let [near, far] = [0.0, 1.05];
        [
            beside(true, true, near),
            beside(true, false, near),
            beside(false, true, near),
            beside(false, false, near),
            beside(true, false, far),
            beside(false, false, far),
            beside(true, true, far),
            beside(false, true, far),
        ]
    }

    fn is_within(&self, [left, top, right, bottom]: &Box) -> bool {
        let (film_top, height) = (self.layout.film_top as f32, self.layout.film_height as f32);
        *left >= 0.0
            && *right <= self.layout.film_width as f32
            && *top >= film_top
            && *bottom <= film_top + height
    }
}

fn overlap(one: &Box, other: &Box) -> bool {
    one[0] < other[2] && other[0] < one[2] && one[1] < other[3] && other[1] < one[3]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marked::canvas::sheet_of;
    use crate::pdf::fonts::Face;

    #[test]
    fn names_of_neighbours_lie_apart_and_within_the_film() {
        let layout = Layout::of(640, 480, 0, false);
        let letters = Letters { face: Face::Bold, size: 12.0, ink: [255; 3], rim: 1.0 };
        let mut pixels = sheet_of(layout.width, layout.height, [0; 3]).unwrap();
        let mut canvas = Canvas::on(&mut pixels);
        let mut names = Names::new(&layout, letters);
        let top = layout.film_top as f32;
        for at in [(300.0, top + 200.0), (304.0, top + 200.0), (302.0, top + 204.0), (638.0, top + 2.0)] {
            names.put(&mut canvas, "long name", (at, 6.0), [255; 3]);
        }
        for (at, one) in names.taken.iter().enumerate() {
            assert!(names.is_within(one), "{one:?}");
            assert!(names.taken[..at].iter().all(|other| !overlap(one, other)), "{:?}", names.taken);
        }
    }
}
