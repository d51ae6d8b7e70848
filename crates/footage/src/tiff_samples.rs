//! From what a TIFF page holds to grey levels: packed samples unpacked, white-is-zero turned over, colour weighted.

use crate::LumaPath;
use crate::rotation::Turn;
use crate::weights::luma_u16;
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

/// Grey levels and their significant bits; the reason when the decoder gives something else than announced.
pub(crate) fn to_grey(stored: &Stored, decoded: DecodingResult) -> Result<(LumaPath, Vec<u16>, u8), String> {
    let n = stored.width * stored.height;
    let inverted = stored.luma == LumaPath::GreyInverted;
    let mut levels = match decoded {
        DecodingResult::U8(bytes) if stored.bits == 8 => {
            pixels(stored, n, |at| bytes.get(at).copied().map(u16::from))
        }
        DecodingResult::U16(words) if stored.bits == 16 => pixels(stored, n, |at| words.get(at).copied()),
        DecodingResult::U8(packed) if stored.bits < 16 && stored.samples == 1 => unpacked(stored, &packed),
        _ => None,
    }
    .ok_or_else(|| format!("{} x {} bits that do not come as announced", stored.samples, stored.bits))?;
    // The decoder has turned samples over within their words.
    let bits = significant_bits(stored, &levels, if inverted { word_of(stored.bits) } else { 0 });
    if inverted && bits < stored.bits {
        let (word, full) = (word_of(stored.bits), word_of(bits));
        levels.iter_mut().for_each(|level| *level = full - (word - *level));
    }
    Ok((stored.luma, levels, bits))
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
        let (_, levels, bits) = to_grey(&page, DecodingResult::U8(packed)).unwrap();
        assert_eq!((levels, bits), (vec![0x123, 0xFED, 0x001, 0xABC, 0xDEF, 0x456], 12));
        assert!(to_grey(&page, DecodingResult::U8(vec![0; 9])).is_err());
    }

    #[test]
    fn a_stated_maximum_is_a_depth_only_when_it_is_a_full_scale() {
        let of = |maximal, luma, words: Vec<u16>| {
            let page = Stored { maximal: Some(maximal), ..stored(2, 1, 16, luma) };
            let (_, levels, bits) = to_grey(&page, DecodingResult::U16(words)).unwrap();
            (levels, bits)
        };
        assert_eq!(of(4095, LumaPath::GreyAsStored, vec![7, 4095]), (vec![7, 4095], 12));
        assert_eq!(of(4095, LumaPath::GreyAsStored, vec![7, 4096]), (vec![7, 4096], 16));
        assert_eq!(of(3000, LumaPath::GreyAsStored, vec![7, 3000]), (vec![7, 3000], 16));
        // Stored 0 and 4095, turned over within 16 bits by the decoder: white and black.
        assert_eq!(of(4095, LumaPath::GreyInverted, vec![65_535, 61_440]), (vec![4095, 0], 12));
    }
}
