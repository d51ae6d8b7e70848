//! Luma from red, green and blue, for stills and films alike.

/// Weights of red, green and blue in thousandths (Recommendation ITU-R BT.601-7, 2.5.1). They add up to 1000, so
/// that equal samples give that sample.
pub(crate) const WEIGHTS: [u32; 3] = [299, 587, 114];

/// Luma rounded to a whole level: exact in whole numbers.
pub(crate) fn luma_of(red: u32, green: u32, blue: u32) -> u32 {
    (WEIGHTS[0] * red + WEIGHTS[1] * green + WEIGHTS[2] * blue + 500) / 1000
}

/// Luma of samples of at most 8 bits.
pub(crate) fn luma_u8(rgb: [u8; 3]) -> u8 {
    let [red, green, blue] = rgb.map(u32::from);
    u8::try_from(luma_of(red, green, blue)).unwrap_or(u8::MAX)
}

/// Luma of samples of at most 16 bits.
pub(crate) fn luma_u16(rgb: [u16; 3]) -> u16 {
    let [red, green, blue] = rgb.map(u32::from);
    u16::try_from(luma_of(red, green, blue)).unwrap_or(u16::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grey_stays_and_luma_is_rounded_once() {
        assert!((0..=u16::MAX).all(|level| luma_u16([level; 3]) == level));
        // 0.299 * 255 = 76.245; 0.587 * 255 = 149.685; 0.114 * 255 = 29.07.
        assert_eq!([luma_u8([255, 0, 0]), luma_u8([0, 255, 0]), luma_u8([0, 0, 255])], [76, 150, 29]);
    }
}
