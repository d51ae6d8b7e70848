//! Where everything stands in a marked picture: words above, the film, curves below. Sizes follow the width, so that a
//! small film is read as well as a large one.

/// Narrower films are enlarged by a whole factor to at least this, px: no letter is read on less.
const LEAST_WIDTH: usize = 640;
/// Most diagrams below the film.
pub(super) const MOST_PANELS: usize = 4;

/// Places and sizes, px of the marked picture.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Layout {
    /// Size of the picture, both even: coders with halved colour take no other.
    pub(super) width: usize,
    pub(super) height: usize,
    /// Each pixel of the film becomes a block of so many by so many, never smoothed.
    pub(super) factor: usize,
    /// Top of the film.
    pub(super) film_top: usize,
    /// Height of the film.
    pub(super) film_height: usize,
    /// Width of the film.
    pub(super) film_width: usize,
    /// Height of an em of ordinary words.
    pub(super) em: f32,
    /// Base line of the words right below the film: scale, and what shapes mean.
    pub(super) below: f32,
    /// Top and bottom of each diagram.
    pub(super) panels: Vec<[f32; 2]>,
}

impl Layout {
    /// For a film of this size, px, in whole rows, so many diagrams, and a line for what is missing in a frame if any is.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "sizes are positive and far below 2^23 px"
    )]
    pub(super) fn of(width: usize, height: usize, n_panels: usize, has_missing: bool) -> Self {
        let factor = LEAST_WIDTH.div_ceil(width.max(1)).max(1);
        let (film_width, film_height) = (width * factor, height * factor);
        let even = |n: usize| n.next_multiple_of(2);
        let whole = even(film_width);
        let em = (0.0165 * whole as f32).clamp(12.0, 48.0);
        let film_top = even((if has_missing { 4.75 * em } else { 3.4 * em }) as usize);
        let panel = 8.2 * em;
        let below = (film_top + film_height) as f32;
        // A line for the scale, then each diagram under its title.
        let top = |n: usize| below + 3.9 * em + n as f32 * (panel + 2.0 * em);
        let panels: Vec<[f32; 2]> = (0..n_panels).map(|n| [top(n), top(n) + panel]).collect();
        let end = panels.last().map_or(below + 2.0 * em, |[_, bottom]| bottom + 2.7 * em);
        let height = even(end.ceil() as usize);
        Self {
            width: whole,
            height,
            factor,
            film_top,
            film_height,
            film_width,
            em,
            below: below + 1.35 * em,
            panels,
        }
    }

    /// A place of the stored picture, whose pixel centres have whole coordinates, in the marked picture.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        reason = "sizes are far below 2^23 px"
    )]
    pub(super) fn place(&self, [x, y]: [f64; 2]) -> (f32, f32) {
        let factor = self.factor as f64;
        (((x + 0.5) * factor) as f32, ((y + 0.5) * factor + self.film_top as f64) as f32)
    }
}

#[cfg(test)]
mod tests {
    use super::Layout;

    #[test]
    fn small_films_are_enlarged_by_whole_factors_and_sizes_are_even() {
        let small = Layout::of(96, 65, 1, true);
        assert_eq!((small.factor, small.film_width, small.film_height), (7, 672, 455));
        assert_eq!((small.width % 2, small.height % 2, small.film_top % 2), (0, 0, 0));
        let large = Layout::of(1281, 720, 2, false);
        assert_eq!((large.factor, large.width, large.film_width), (1, 1282, 1281));
        assert!(large.panels[1][1] < large.height as f32);
        let (x, y) = large.place([10.0, 0.0]);
        assert!((x - 10.5).abs() < 1e-6 && (y - large.film_top as f32 - 0.5).abs() < 1e-4);
    }
}
