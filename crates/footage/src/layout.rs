//! Which sample layouts of films can be measured, by the names that FFmpeg gives them, and where their grey lies.

use crate::LumaPath;
use crate::bayer::Mosaic;

/// How a sample is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Word {
    Byte,
    LittleEnd,
    BigEnd,
}

/// Where the samples of one channel lie: bytes from the start of a row to the first, and from each to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Channel {
    pub(crate) plane: usize,
    pub(crate) offset: usize,
    pub(crate) step: usize,
}

/// How grey levels are got.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Taking {
    /// Copied from one channel.
    Luma(Channel),
    /// Weighted from red, green, blue.
    Colour([Channel; 3]),
    /// Interpolated and weighted.
    Mosaic(Mosaic),
    /// Eight pixels a byte, first pixel in the upper bit.
    Bits { white_is_zero: bool },
}

/// A layout that can be measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct LumaLayout {
    /// Significant bits of a grey level.
    pub(crate) bits: u8,
    pub(crate) path: LumaPath,
    /// The layout's name itself promises black at 0 and white at full scale.
    pub(crate) full_range: bool,
    pub(crate) word: Word,
    /// Empty bits below the significant ones.
    pub(crate) shift: u8,
    pub(crate) taking: Taking,
}

impl LumaLayout {
    /// The layout that goes by FFmpeg's `name`; `None` for those that cannot be measured: palettes, floating point,
    /// samples that do not fill whole bytes (such as "rgb565le"), X'Y'Z', hardware surfaces.
    pub(crate) fn named(name: &str) -> Option<Self> {
        let (stem, word) = if let Some(stem) = name.strip_suffix("le") {
            (stem, Word::LittleEnd)
        } else if let Some(stem) = name.strip_suffix("be") {
            (stem, Word::BigEnd)
        } else {
            (name, Word::Byte)
        };
        let layout = bitmap(stem)
            .or_else(|| grey(stem, word))
            .or_else(|| planar_luma(stem, word))
            .or_else(|| packed_luma(stem, word))
            .or_else(|| mosaic(stem, word))
            .or_else(|| packed_colour(stem, word))
            .or_else(|| planar_colour(stem, word))?;
        // One byte holds up to 8 bits, two hold more: a name that says otherwise is not one we know.
        let fits = (layout.word == Word::Byte) == (layout.bits <= 8);
        fits.then_some(layout)
    }

    fn luma(bits: u8, path: LumaPath, word: Word, channel: Channel) -> Self {
        Self { bits, path, full_range: false, word, shift: 0, taking: Taking::Luma(channel) }
    }

    fn colour(bits: u8, word: Word, channels: [Channel; 3]) -> Self {
        let (path, taking) = (LumaPath::WeightedColour, Taking::Colour(channels));
        Self { bits, path, full_range: true, word, shift: 0, taking }
    }
}

fn first_plane(offset: usize, step: usize) -> Channel {
    Channel { plane: 0, offset, step }
}

fn sample_bytes(word: Word) -> usize {
    if word == Word::Byte { 1 } else { 2 }
}

/// Bits from the end of a name; none written means 8.
fn depth(text: &str) -> Option<u8> {
    match text {
        "" => Some(8),
        text => text.parse().ok().filter(|bits| (8..=16).contains(bits)),
    }
}

fn bitmap(stem: &str) -> Option<LumaLayout> {
    let (path, white_is_zero) = match stem {
        "monow" => (LumaPath::GreyInverted, true),
        "monob" => (LumaPath::GreyAsStored, false),
        _ => return None,
    };
    let taking = Taking::Bits { white_is_zero };
    Some(LumaLayout { bits: 1, path, full_range: true, word: Word::Byte, shift: 0, taking })
}

fn grey(stem: &str, word: Word) -> Option<LumaLayout> {
    let bytes = sample_bytes(word);
    if let Some(text) = stem.strip_prefix("gray") {
        return Some(LumaLayout::luma(depth(text)?, LumaPath::GreyAsStored, word, first_plane(0, bytes)));
    }
    // Grey and transparency by turns.
    let text = stem.strip_prefix("ya")?;
    Some(LumaLayout::luma(depth(text)?, LumaPath::GreyAsStored, word, first_plane(0, 2 * bytes)))
}

/// Luma in a plane of its own: "yuv420p10", or with chroma by turns in a second plane: "nv12", "p010".
fn planar_luma(stem: &str, word: Word) -> Option<LumaLayout> {
    let alone = first_plane(0, sample_bytes(word));
    let luma = |bits, shift| LumaLayout { shift, ..LumaLayout::luma(bits, LumaPath::LumaPlane, word, alone) };
    match stem {
        "nv12" | "nv21" | "nv16" | "nv24" | "nv42" => return Some(luma(8, 0)),
        "nv20" => return Some(luma(10, 0)),
        // Significant bits on top, zeros below.
        "p010" | "p210" | "p410" => return Some(luma(10, 6)),
        "p012" | "p212" | "p412" => return Some(luma(12, 4)),
        "p016" | "p216" | "p416" => return Some(luma(16, 0)),
        _ => {}
    }
    let rest = ["yuvj", "yuva", "yuv"].iter().find_map(|start| stem.strip_prefix(start))?;
    let (sampling, text) = rest.split_once('p')?;
    let known = matches!(sampling, "410" | "411" | "420" | "422" | "440" | "444");
    let layout = luma(depth(text)?, 0);
    known.then_some(LumaLayout { full_range: stem.starts_with("yuvj"), ..layout })
}

/// Luma and chroma by turns in one plane.
fn packed_luma(stem: &str, word: Word) -> Option<LumaLayout> {
    let (bits, offset, step, shift) = match stem {
        "yuyv422" | "yvyu422" => (8, 0, 2, 0),
        "uyvy422" => (8, 1, 2, 0),
        "vuya" | "vuyx" => (8, 2, 4, 0),
        "y210" => (10, 0, 4, 6),
        "y212" => (12, 0, 4, 4),
        "ayuv64" => (16, 2, 8, 0),
        _ => return None,
    };
    let layout = LumaLayout::luma(bits, LumaPath::LumaPlane, word, first_plane(offset, step));
    Some(LumaLayout { shift, ..layout })
}

fn mosaic(stem: &str, word: Word) -> Option<LumaLayout> {
    let (order, text) = stem.strip_prefix("bayer_")?.split_at_checked(4)?;
    let (path, taking) = (LumaPath::WeightedMosaic, Taking::Mosaic(Mosaic::named(order)?));
    Some(LumaLayout { bits: depth(text)?, path, full_range: true, word, shift: 0, taking })
}

/// Red, green and blue by turns in one plane, with or without transparency.
fn packed_colour(stem: &str, word: Word) -> Option<LumaLayout> {
    let (places, samples, bits) = match stem {
        "rgb24" => ([0, 1, 2], 3, 8),
        "bgr24" => ([2, 1, 0], 3, 8),
        "rgba" | "rgb0" => ([0, 1, 2], 4, 8),
        "bgra" | "bgr0" => ([2, 1, 0], 4, 8),
        "argb" | "0rgb" => ([1, 2, 3], 4, 8),
        "abgr" | "0bgr" => ([3, 2, 1], 4, 8),
        "rgb48" => ([0, 1, 2], 3, 16),
        "bgr48" => ([2, 1, 0], 3, 16),
        "rgba64" => ([0, 1, 2], 4, 16),
        "bgra64" => ([2, 1, 0], 4, 16),
        _ => return None,
    };
    let bytes = sample_bytes(word);
    Some(LumaLayout::colour(bits, word, places.map(|place| first_plane(bytes * place, bytes * samples))))
}

/// Planes of green, blue, red, in this order.
fn planar_colour(stem: &str, word: Word) -> Option<LumaLayout> {
    let text = stem.strip_prefix("gbrp").or_else(|| stem.strip_prefix("gbrap"))?;
    let step = sample_bytes(word);
    let channels = [2, 0, 1].map(|plane| Channel { plane, offset: 0, step });
    Some(LumaLayout::colour(depth(text)?, word, channels))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn layouts_are_known_by_name() {
        let about = |name: &str| LumaLayout::named(name).map(|layout| (layout.bits, layout.path));
        use LumaPath::{GreyAsStored, GreyInverted, LumaPlane, WeightedColour, WeightedMosaic};
        for (names, path, bits) in [
            ("gray ya8", GreyAsStored, 8),
            ("gray10le gray10be", GreyAsStored, 10),
            ("gray12le", GreyAsStored, 12),
            ("gray16be ya16le", GreyAsStored, 16),
            ("monob", GreyAsStored, 1),
            ("monow", GreyInverted, 1),
            ("yuv420p yuvj422p yuva444p nv12 nv16 yuyv422 uyvy422", LumaPlane, 8),
            ("yuv420p10le yuva420p10be p010le p210be nv20le y210le", LumaPlane, 10),
            ("yuv444p12le p012le", LumaPlane, 12),
            ("p016le ayuv64le yuv420p16be", LumaPlane, 16),
            ("rgb24 bgr24 rgba bgra argb abgr rgb0 bgr0 0rgb 0bgr gbrp gbrap", WeightedColour, 8),
            ("gbrp10le gbrap10be", WeightedColour, 10),
            ("rgb48le bgr48be rgba64le gbrp16be", WeightedColour, 16),
            ("bayer_rggb8 bayer_bggr8", WeightedMosaic, 8),
            ("bayer_gbrg16le bayer_grbg16be", WeightedMosaic, 16),
        ] {
            for name in names.split(' ') {
                assert_eq!(about(name), Some((bits, path)), "{name}");
            }
        }
        let unknown = "pal8 rgb565le rgb8 grayf32le gbrpf32be xyz12le yuv420p10 gray8le vaapi yuv999p bayer_ bayer_rgbg8";
        for name in unknown.split(' ') {
            assert_eq!(about(name), None, "{name}");
        }
    }
}
