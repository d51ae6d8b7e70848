//! Drawings as pixels: for picture files, and for screens that show no SVG.

use crate::ReportError;
use resvg::{tiny_skia, usvg};

/// Pixels a unit of the drawing, in picture files.
const FILE_SCALE: f32 = 2.0;

/// A drawing as pixels, line by line from the top.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pixels {
    /// Pixels across.
    pub width: u32,
    /// Lines.
    pub height: u32,
    /// Red, green, blue and opacity of each pixel, 0 to 255; the paper is opaque.
    pub rgba: Vec<u8>,
}

/// Makes pixels of drawings, with the letters of the fonts it was given.
#[derive(Debug, Default)]
pub struct Rasterer {
    options: usvg::Options<'static>,
}

impl Rasterer {
    /// With the fonts of this system; without any, drawings have no letters.
    #[must_use]
    pub fn of_this_system() -> Self {
        let mut made = Self::default();
        made.options.fontdb_mut().load_system_fonts();
        made
    }

    /// With these font files and no others, so that a drawing looks the same on every machine; the first serves wherever
    /// no known font is asked for.
    #[must_use]
    pub fn with_fonts(fonts: Vec<Vec<u8>>) -> Self {
        let mut made = Self::default();
        let known = made.options.fontdb_mut();
        fonts.into_iter().for_each(|font| known.load_font_data(font));
        let first = known.faces().next().and_then(|face| face.families.first());
        if let Some((family, _)) = first.cloned() {
            known.set_sans_serif_family(family);
        }
        made
    }

    /// The drawing at so many pixels a unit, on white paper.
    ///
    /// # Errors
    /// [`ReportError::Make`] when `svg` is no drawing of this program, or too large.
    pub fn pixels(&self, svg: &str, scale: f32) -> Result<Pixels, ReportError> {
        let drawn = self.drawn(svg, scale)?;
        Ok(Pixels { width: drawn.width(), height: drawn.height(), rgba: drawn.data().to_vec() })
    }

    /// The drawing as a PNG file, 2 pixels a unit, on white paper.
    ///
    /// # Errors
    /// [`ReportError::Make`] when `svg` is no drawing of this program, or too large.
    pub fn png(&self, svg: &str) -> Result<Vec<u8>, ReportError> {
        self.drawn(svg, FILE_SCALE)?.encode_png().map_err(|why| ReportError::make(WHAT, why))
    }

    fn drawn(&self, svg: &str, scale: f32) -> Result<tiny_skia::Pixmap, ReportError> {
        let tree = usvg::Tree::from_str(svg, &self.options).map_err(|why| ReportError::make(WHAT, why))?;
        let failed = |why: &str| ReportError::make(WHAT, why);
        let size = tree.size().to_int_size().scale_by(scale).ok_or_else(|| failed("it has no size"))?;
        let mut pixels =
            tiny_skia::Pixmap::new(size.width(), size.height()).ok_or_else(|| failed("it is too large"))?;
        pixels.fill(tiny_skia::Color::WHITE);
        resvg::render(&tree, tiny_skia::Transform::from_scale(scale, scale), &mut pixels.as_mut());
        Ok(pixels)
    }
}

const WHAT: &str = "the picture of a drawing";

#[cfg(test)]
mod tests {
    use super::*;

    const DRAWING: &str = "<svg viewBox=\"0 0 20 10\" xmlns=\"http://www.w3.org/2000/svg\">\
        <rect width=\"10\" height=\"10\" fill=\"#ff0000\"/></svg>";

    #[test]
    fn a_drawing_becomes_pixels_on_white() {
        let pixels = Rasterer::default().pixels(DRAWING, 1.0).unwrap();
        assert_eq!((pixels.width, pixels.height, pixels.rgba.len()), (20, 10, 800));
        assert_eq!((&pixels.rgba[..4], &pixels.rgba[60..64]), (&[255, 0, 0, 255][..], &[255; 4][..]));
        let png = Rasterer::default().png(DRAWING).unwrap();
        assert!(png.starts_with(b"\x89PNG\r\n\x1a\n"));
        assert_eq!(png, Rasterer::default().png(DRAWING).unwrap());
    }

    #[test]
    fn what_is_no_drawing_is_refused() {
        assert!(Rasterer::default().png("<svg").is_err());
        assert!(Rasterer::default().pixels(DRAWING, 0.0).is_err());
    }
}
