//! From what a TIFF page holds to grey levels: packed samples unpacked, white-is-zero turned over, colour weighted.

use crate::LumaPath;
use crate::rotation::Turn;
use crate::weights::luma_u16;
use filmgauge_quantities::{GreyImage, LayoutError};
use tiff::decoder::DecodingResult;

/// What a page's header says of its samples.
pub(crate) struct Stored {
    pub(crate) width: usize,
    pub(crate) height: usize,
    /// Bits of a sample in the file.
    pub(crate) bits: u8,
    /// Samples of a pixel.
    pub(crate) samples: usize,
    /// Whether each kind of sample has a plane of its own.
    pub(crate) planar: bool,
    pub(crate) luma: LumaPath,
    /// The greatest sample value that the header names.
    pub(crate) maximal: Option<u32>,
    pub(crate) turn: Option<Turn>,
}

/// The page as a grey image; the reason when the decoder gives something else than announced.
pub(crate) fn to_grey(stored: &Stored, decoded: DecodingResult) -> Result<GreyImage, String> {
    let (width, height, n) = (stored.width, stored.height, stored.width * stored.height);
    let other = || format!("{} x {} bits that do not come as announced", stored.samples, stored.bits);
    let alone = stored.samples == 1;
    let built = match decoded {
        DecodingResult::U8(bytes) if stored.bits == 8 && alone => GreyImage::from_u8(width, height, bytes),
        DecodingResult::U8(bytes) if stored.bits == 8 => {
            let levels = pixels(stored, n, |at| bytes.get(at).copied().map(u16::from)).ok_or_else(other)?;
            let narrow = levels.into_iter().map(|level| u8::try_from(level).unwrap_or(u8::MAX));
            GreyImage::from_u8(width, height, narrow.collect())
        }
        DecodingResult::U8(packed) if stored.bits < 16 && alone => {
            let levels = unpacked(stored, &packed).ok_or_else(other)?;
            GreyImage::from_u16(width, height, stored.bits, levels)
        }
        DecodingResult::U16(words) if stored.bits == 16 && alone => of_words(stored, words),
        DecodingResult::U16(words) if stored.bits == 16 => {
            let levels = pixels(stored, n, |at| words.get(at).copied()).ok_or_else(other)?;
            of_words(stored, levels)
        }
        _ => return Err(other()),
    };
    built.map_err(|error| error.to_string())
}

/// Samples of 16 bits, of which fewer may be significant.
fn of_words(stored: &Stored, mut levels: Vec<u16>) -> Result<GreyImage, LayoutError> {
    // The decoder has turned samples over within their words.
    let inverted = stored.luma == LumaPath::GreyInverted;
    let bits = significant_bits(stored, &levels, if inverted { u16::MAX } else { 0 });
    if inverted && bits < 16 {
        let full = word_of(bits);
        levels.iter_mut().for_each(|level| *level = full - (u16::MAX - *level));
    }
    GreyImage::from_u16(stored.width, stored.height, bits, levels)
}

/// The greatest value of `bits` bits.
fn word_of(bits: u8) -> u16 {
    u16::try_from((1_u32 << bits.min(16)) - 1).unwrap_or(u16::MAX)
}

/// 16-bit words may hold fewer significant bits: the header says so when the greatest value that it names is full
/// scale of 9 to 15 bits and no sample exceeds it. Any other value there is a statistic, not a depth. `turned` is
/// the word from which samples were subtracted, or 0.
fn significant_bits(stored: &Stored, levels: &[u16], turned: u16) -> u8 {
    let Some(maximal) = stored.maximal.and_then(|maximal| u16::try_from(maximal).ok()) else {
        return stored.bits;
    };
    let bits = u8::try_from(u16::BITS - maximal.leading_zeros()).unwrap_or(16);
    let is_depth = stored.bits == 16 && (9..=15).contains(&bits) && maximal == word_of(bits);
    let stored_level = |level: u16| if turned > 0 { turned - level } else { level };
    let fits = is_depth && levels.iter().all(|&level| stored_level(level) <= maximal);
    if fits { bits } else { stored.bits }
}

/// The first sample of each pixel, or luma of the first three.
fn pixels(stored: &Stored, n: usize, sample: impl Fn(usize) -> Option<u16>) -> Option<Vec<u16>> {
    let (pixel, next) = if stored.planar { (1, n) } else { (stored.samples, 1) };
    (0..n)
        .map(|at| {
            let first = at * pixel;
            if stored.luma == LumaPath::WeightedColour {
                return Some(luma_u16([sample(first)?, sample(first + next)?, sample(first + 2 * next)?]));
            }
            sample(first)
        })
        .collect()
}

/// Samples of any width, packed from the upper bit of each byte; each row begins a byte (TIFF 6.0, section 4).
fn unpacked(stored: &Stored, packed: &[u8]) -> Option<Vec<u16>> {
    let bits = u32::from(stored.bits);
    let row_bytes = (stored.width * usize::from(stored.bits)).div_ceil(8);
    let mut levels = Vec::with_capacity(stored.width * stored.height);
    for row in packed.chunks_exact(row_bytes).take(stored.height) {
        let (mut held, mut n_held) = (0_u32, 0_u32);
        let mut bytes = row.iter();
        for _ in 0..stored.width {
            while n_held < bits {
                held = held << 8 | u32::from(*bytes.next()?);
                n_held += 8;
            }
            n_held -= bits;
            levels.push(u16::try_from(held >> n_held & ((1 << bits) - 1)).ok()?);
        }
    }
    (levels.len() == stored.width * stored.height).then_some(levels)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stored(width: usize, height: usize, bits: u8, luma: LumaPath) -> Stored {
        Stored { width, height, bits, samples: 1, planar: false, luma, maximal: None, turn: None }
    }

    #[test]
    fn twelve_bits_are_unpacked_row_by_row() {
        let page = stored(3, 2, 12, LumaPath::GreyAsStored);
        let packed = vec![0x12, 0x3F, 0xED, 0x00, 0x10, 0xAB, 0xCD, 0xEF, 0x45, 0x6F];
        let expected = vec![0x123, 0xFED, 0x001, 0xABC, 0xDEF, 0x456];
        let found = to_grey(&page, DecodingResult::U8(packed)).unwrap();
        assert_eq!(found, GreyImage::from_u16(3, 2, 12, expected).unwrap());
        assert!(to_grey(&page, DecodingResult::U8(vec![0; 9])).is_err());
    }

    #[test]
    fn a_stated_maximum_is_a_depth_only_when_it_is_a_full_scale() {
        let of = |maximal, luma, words: Vec<u16>| {
            let page = Stored { maximal: Some(maximal), ..stored(2, 1, 16, luma) };
            to_grey(&page, DecodingResult::U16(words)).unwrap()
        };
        let two = |levels: Vec<u16>, bits| GreyImage::from_u16(2, 1, bits, levels).unwrap();
        assert_eq!(of(4095, LumaPath::GreyAsStored, vec![7, 4095]), two(vec![7, 4095], 12));
        assert_eq!(of(4095, LumaPath::GreyAsStored, vec![7, 4096]), two(vec![7, 4096], 16));
        assert_eq!(of(3000, LumaPath::GreyAsStored, vec![7, 3000]), two(vec![7, 3000], 16));
        // Stored 0 and 4095, turned over within 16 bits by the decoder: white and black.
        assert_eq!(of(4095, LumaPath::GreyInverted, vec![65_535, 61_440]), two(vec![4095, 0], 12));
    }
}
