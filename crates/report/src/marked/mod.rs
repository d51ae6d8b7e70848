//! Marked films: one frame's picture with that frame's marks, trails, axes of bodies, time, scale and curves in step.
//! Everything drawn stands in the results; nothing is computed here.

mod canvas;
mod film;
mod foot;
mod head;
mod ink;
mod layout;
mod names;
mod stored;
#[cfg(test)]
mod tests;

pub use film::Rows;
pub use stored::FilmResults;

use crate::ReportError;
use crate::people::panel_in_units;
use canvas::{Canvas, sheet_of};
use film::Overlay;
use filmgauge_quantities::GreyView;
use filmgauge_results::UnitSystem;
use foot::Foot;
use head::{Head, HeadWords};
use layout::{Layout, MOST_PANELS};
use resvg::tiny_skia::Pixmap;

/// What a marked film shows besides marks.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkedLook {
    /// Test id.
    pub test: String,
    /// Its title.
    pub title: String,
    /// Units for people.
    pub units: UnitSystem,
    /// How much slower than real time, in words, such as "1/40 of real time".
    pub slower: String,
    /// Names of the curves below the film, at most four, see [`FilmResults::curve_names`].
    pub curves: Vec<String>,
    /// Frames that a trail reaches back.
    pub trail: u32,
    /// First and last frame of the film.
    pub frames: [u32; 2],
    /// Whether any of them is damaged.
    pub damage: bool,
}

/// A picture in colour.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColourPicture {
    /// Pixels across; even.
    pub width: usize,
    /// Rows; even.
    pub height: usize,
    /// Red, green and blue of each pixel, row by row.
    pub rgb: Vec<u8>,
}

impl ColourPicture {
    /// As a PNG file.
    ///
    /// # Errors
    /// [`ReportError::Make`] when it cannot be encoded, which is a fault of this program.
    pub fn png(&self) -> Result<Vec<u8>, ReportError> {
        let failed = |why: String| ReportError::make("a marked picture", why);
        let size = |n: usize| u32::try_from(n).map_err(|why| failed(why.to_string()));
        let mut file = Vec::new();
        let mut encoder = png::Encoder::new(&mut file, size(self.width)?, size(self.height)?);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        let mut writer = encoder.write_header().map_err(|why| failed(why.to_string()))?;
        writer.write_image_data(&self.rgb).map_err(|why| failed(why.to_string()))?;
        writer.finish().map_err(|why| failed(why.to_string()))?;
        Ok(file)
    }
}

/// Draws the pictures of one camera's marked film. Each is a pure function of its frame; they may be drawn in any order
/// and on several threads.
pub struct MarkedFilm {
    stored: FilmResults,
    look: MarkedLook,
    layout: Layout,
    feet: Vec<Foot>,
    /// What stands in every picture alike.
    standing: Pixmap,
}

impl MarkedFilm {
    /// For a film of `width` x `height` px in whole rows.
    ///
    /// # Errors
    /// [`ReportError::NoSuchCurve`] for a curve that the results do not hold or a fifth one; [`ReportError::Make`] for
    /// pictures too large to draw.
    pub fn new(
        stored: FilmResults,
        look: MarkedLook,
        (width, height): (usize, usize),
    ) -> Result<Self, ReportError> {
        if let Some(name) = look.curves.get(MOST_PANELS) {
            return Err(ReportError::TooManyCurves { name: name.clone(), most: MOST_PANELS });
        }
        let [first, last] = look.frames;
        let has_gap = stored.gaps.iter().any(|gap| gap.frames[0] <= last && gap.frames[1] >= first);
        let layout = Layout::of(width, height, look.curves.len(), has_gap || look.damage);
        let time = |frame: u32| stored.drawing.times_s.get(frame as usize).copied().unwrap_or(0.0);
        let span_s = look.frames.map(time);
        let foot = |(n, name): (usize, &String)| {
            let panel = panel_in_units(stored.panel(name)?, look.units);
            Ok(Foot::of(panel, &layout, n, span_s))
        };
        let feet = look.curves.iter().enumerate().map(foot).collect::<Result<Vec<_>, ReportError>>()?;
        let standing = sheet_of(layout.width, layout.height, ink::GROUND)?;
        let mut made = Self { stored, look, layout, feet, standing };
        let mut standing = made.standing.clone();
        let mut canvas = Canvas::on(&mut standing);
        made.head().draw_standing(&mut canvas);
        made.feet.iter().for_each(|foot| foot.draw_standing(&mut canvas, made.layout.em));
        made.standing = standing;
        Ok(made)
    }

    /// Width and height of the pictures, px; both even.
    #[must_use]
    pub fn size(&self) -> (usize, usize) {
        (self.layout.width, self.layout.height)
    }

    /// Where the stored picture lies in a marked one: its left, its top, and how many pixels across one of its pixels is.
    #[must_use]
    pub fn film_at(&self) -> (usize, usize, usize) {
        (0, self.layout.film_top, self.layout.factor)
    }

    fn head(&self) -> Head<'_> {
        let words = HeadWords {
            test: &self.look.test,
            title: &self.look.title,
            slower: &self.look.slower,
            frames: self.look.frames,
            units: self.look.units,
        };
        Head { layout: &self.layout, stored: &self.stored, words }
    }

    /// The picture of `frame`, whose grey levels are `view`.
    ///
    /// # Errors
    /// [`ReportError::Make`] when the view is not of the size that the film was begun with.
    pub fn picture(
        &self,
        frame: u32,
        view: &GreyView<'_>,
        rows: Rows,
        is_damaged: bool,
    ) -> Result<ColourPicture, ReportError> {
        let factor = self.layout.factor;
        let size = (factor * view.width(), factor * rows.whole(view.height()));
        if size != (self.layout.film_width, self.layout.film_height) {
            return Err(ReportError::make("a marked picture", "the frame has another size than the film"));
        }
        let mut pixels = self.standing.clone();
        let mut canvas = Canvas::on(&mut pixels);
        film::lay(&mut canvas, &self.layout, view, rows);
        let (stored, layout) = (&self.stored, &self.layout);
        Overlay { layout, stored, trail: self.look.trail }.draw(&mut canvas, frame);
        self.uncover(&mut canvas);
        self.head().draw_frame(&mut canvas, frame, is_damaged);
        if let Some(time_s) = self.stored.drawing.times_s.get(frame as usize) {
            self.feet.iter().for_each(|foot| foot.draw_instant(&mut canvas, layout, *time_s));
        }
        let mut rgb = vec![0; 3 * layout.width * layout.height];
        for (colour, pixel) in rgb.chunks_exact_mut(3).zip(pixels.data().chunks_exact(4)) {
            colour.copy_from_slice(&pixel[..3]);
        }
        Ok(ColourPicture { width: layout.width, height: layout.height, rgb })
    }

    /// What was drawn beyond the film's edges is covered again.
    fn uncover(&self, canvas: &mut Canvas<'_>) {
        let row = 4 * self.layout.width;
        let (top, bottom) =
            (self.layout.film_top * row, (self.layout.film_top + self.layout.film_height) * row);
        let standing = self.standing.data();
        let bytes = canvas.bytes();
        bytes[..top].copy_from_slice(&standing[..top]);
        bytes[bottom..].copy_from_slice(&standing[bottom..]);
    }
}

impl std::fmt::Debug for MarkedFilm {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("MarkedFilm").field("look", &self.look).finish_non_exhaustive()
    }
}
