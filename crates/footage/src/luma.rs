//! The luma plane of a decoded picture: which layouts can be measured as stored, and the copy without conversion.

use crate::LumaPath;
use ffmpeg_next::frame;
use filmgauge_quantities::GreyImage;

/// Order of the bytes of a sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum SampleBytes {
    One,
    TwoLittleEnd,
    TwoBigEnd,
}

/// How luma samples lie in plane 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct LumaLayout {
    pub(crate) bits: u8,
    pub(crate) path: LumaPath,
    /// The layout's name itself promises black at 0 and white at full scale.
    pub(crate) full_range: bool,
    bytes: SampleBytes,
}

impl LumaLayout {
    /// The layout that goes by FFmpeg's `name`; `None` where plane 0 is not luma alone (packed, RGB, Bayer, palette, float).
    pub(crate) fn named(name: &str) -> Option<Self> {
        let (stem, bytes) = if let Some(stem) = name.strip_suffix("le") {
            (stem, SampleBytes::TwoLittleEnd)
        } else if let Some(stem) = name.strip_suffix("be") {
            (stem, SampleBytes::TwoBigEnd)
        } else {
            (name, SampleBytes::One)
        };
        let (path, depth) = if let Some(depth) = stem.strip_prefix("gray") {
            (LumaPath::GreyAsStored, depth)
        } else if matches!(stem, "nv12" | "nv21" | "nv16" | "nv24" | "nv42") {
            (LumaPath::LumaPlane, "")
        } else {
            (LumaPath::LumaPlane, planar_depth(stem)?)
        };
        let bits = match (depth, bytes) {
            ("", SampleBytes::One) => 8,
            (_, SampleBytes::One) => return None,
            _ => depth.parse().ok().filter(|bits| (9..=16).contains(bits))?,
        };
        Some(Self { bits, path, full_range: name.starts_with("yuvj"), bytes })
    }

    /// Copies plane 0 of `picture` row by row, out of its stride; the reason when the picture is not usable.
    pub(crate) fn copy(self, picture: &frame::Video) -> Result<GreyImage, String> {
        let (width, height) = (picture.width() as usize, picture.height() as usize);
        let row_bytes = if self.bytes == SampleBytes::One { width } else { 2 * width };
        // A stride below zero (rows stored bottom up) arrives here as a huge number.
        let stride = if picture.planes() > 0 { picture.stride(0) } else { 0 };
        if stride < row_bytes || stride > 16 * row_bytes + 65_536 {
            return Err("its rows do not lie in order".to_owned());
        }
        let rows = picture.data(0).chunks(stride).take(height).map(|row| &row[..row_bytes]);
        let image = match self.bytes {
            SampleBytes::One => {
                let mut samples = Vec::with_capacity(width * height);
                rows.for_each(|row| samples.extend_from_slice(row));
                GreyImage::from_u8(width, height, samples)
            }
            SampleBytes::TwoLittleEnd => {
                GreyImage::from_u16(width, height, self.bits, words(rows, width * height, u16::from_le_bytes))
            }
            SampleBytes::TwoBigEnd => {
                GreyImage::from_u16(width, height, self.bits, words(rows, width * height, u16::from_be_bytes))
            }
        };
        image.map_err(|error| error.to_string())
    }
}

/// Bits as text of a planar YUV layout such as "yuv420p10"; empty for 8 bits.
fn planar_depth(stem: &str) -> Option<&str> {
    let rest = ["yuvj", "yuva", "yuv"].iter().find_map(|start| stem.strip_prefix(start))?;
    let (sampling, depth) = rest.split_once('p')?;
    matches!(sampling, "410" | "411" | "420" | "422" | "440" | "444").then_some(depth)
}

fn words<'a>(rows: impl Iterator<Item = &'a [u8]>, n: usize, from_bytes: fn([u8; 2]) -> u16) -> Vec<u16> {
    let mut samples = Vec::with_capacity(n);
    for row in rows {
        samples.extend(row.chunks_exact(2).map(|pair| from_bytes([pair[0], pair[1]])));
    }
    samples
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn layouts_whose_first_plane_is_luma_are_known_by_name() {
        let bits = |name: &str| LumaLayout::named(name).map(|layout| layout.bits);
        for (name, expected) in
            [("gray", 8), ("gray10le", 10), ("gray12le", 12), ("gray16be", 16), ("nv12", 8)]
        {
            assert_eq!(bits(name), Some(expected), "{name}");
        }
        for (name, expected) in [("yuv420p", 8), ("yuvj422p", 8), ("yuv444p12le", 12), ("yuva420p10be", 10)] {
            assert_eq!(bits(name), Some(expected), "{name}");
        }
        for name in
            ["rgb24", "gbrp", "bayer_rggb8", "pal8", "grayf32le", "yuyv422", "p010le", "ya8", "yuv420p10"]
        {
            assert_eq!(bits(name), None, "{name}");
        }
    }
}
