//! The two faces of every PDF and every marked film, bundled so that no machine's fonts matter: widths of letters, and the glyph of each.

use resvg::usvg::fontdb::Database;
use std::sync::{Arc, LazyLock};
use ttf_parser::{Face as Outlines, GlyphId, OutlineBuilder};

const PLAIN: &[u8] = include_bytes!("../fonts/DejaVuSansCondensed.ttf");
const BOLD: &[u8] = include_bytes!("../fonts/DejaVuSansCondensed-Bold.ttf");
/// Stands for letters that the font lacks.
const UNKNOWN: char = '\u{25a1}';

/// A face.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Face {
    Plain,
    Bold,
}

static OUTLINES: LazyLock<[Option<Outlines<'static>>; 2]> =
    LazyLock::new(|| [Outlines::parse(PLAIN, 0).ok(), Outlines::parse(BOLD, 0).ok()]);

impl Face {
    /// The font file.
    pub(crate) fn file(self) -> &'static [u8] {
        match self {
            Self::Plain => PLAIN,
            Self::Bold => BOLD,
        }
    }

    fn outlines(self) -> Option<&'static Outlines<'static>> {
        OUTLINES[self as usize].as_ref()
    }

    /// Glyph number of a letter and its width in ems; nothing for what draws nothing.
    pub(crate) fn glyph(self, letter: char) -> Option<(u16, f32)> {
        let outlines = self.outlines()?;
        let GlyphId(glyph) = outlines.glyph_index(letter)?;
        let width = outlines.glyph_hor_advance(GlyphId(glyph)).unwrap_or(0);
        Some((glyph, f32::from(width) / f32::from(outlines.units_per_em())))
    }

    /// Font units of an em.
    pub(crate) fn units_per_em(self) -> f32 {
        self.outlines().map_or(1.0, |outlines| f32::from(outlines.units_per_em()))
    }

    /// Draws a letter's outline, in font units with y upwards, and gives its width in ems.
    pub(crate) fn outline(self, letter: char, pen: &mut dyn OutlineBuilder) -> Option<f32> {
        let (glyph, width) = self.glyph(letter)?;
        // A space has no outline, and no box.
        let _ = self.outlines()?.outline_glyph(GlyphId(glyph), pen);
        Some(width)
    }

    /// Width of a text at a size.
    pub(crate) fn width(self, text: &str, size: f32) -> f32 {
        text.chars().filter_map(|letter| self.glyph(letter)).map(|(_, width)| width * size).sum()
    }
}

/// `text` with every letter that the fonts lack shown as a box, and control characters as spaces. What is told stays in
/// the other files as it was written.
pub(crate) fn known(text: &str) -> String {
    let known = |letter: char| match letter {
        '\n' | '\r' | '\t' => ' ',
        control if control.is_control() => ' ',
        letter if Face::Plain.glyph(letter).is_some() && Face::Bold.glyph(letter).is_some() => letter,
        _ => UNKNOWN,
    };
    text.chars().map(known).collect()
}

/// The same faces for drawings, under the names that the sheet's style asks for.
pub(crate) fn database() -> Arc<Database> {
    let mut database = Database::new();
    for face in [Face::Plain, Face::Bold] {
        database.load_font_data(face.file().to_vec());
    }
    let family =
        database.faces().next().and_then(|face| face.families.first()).map(|(family, _)| family.clone());
    if let Some(family) = family {
        database.set_sans_serif_family(family);
    }
    Arc::new(database)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_have_the_widths_of_the_font() {
        // Advance widths of the file's hmtx table: digits 1172, space 585 of 2048 units, as fontTools prints them.
        assert!(
            (Face::Plain.width("1234567890", 2048.0) - 11_720.0).abs() < 0.5,
            "{}",
            Face::Plain.width("1", 2048.0)
        );
        assert!((Face::Plain.width(" ", 2048.0) - 585.0).abs() < 0.5);
        assert!(Face::Bold.width("speed", 10.0) > Face::Plain.width("speed", 10.0));
    }

    #[test]
    fn what_the_fonts_lack_is_a_box() {
        assert_eq!(known("± − ° ² ▲ ○ ▶ – · √ Δ"), "± − ° ² ▲ ○ ▶ – · √ Δ");
        assert_eq!(known("速度\u{7}a\nb"), "□□ a b");
    }
}
