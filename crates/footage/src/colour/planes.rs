//! Red, green and blue into the planes of a coder, in whole numbers, so that every machine makes the same bytes.

use ffmpeg_next::frame;

/// Weights of red, green and blue in luma and both chromas, of 65536: Rec. ITU-R BT.709-6, 3.2 to 3.5, in the range of
/// 16 to 235 and 16 to 240.
const LUMA: [i32; 3] = [11_966, 40_254, 4_064];
const CHROMA: [[i32; 3]; 2] = [[-6_596, -22_188, 28_784], [28_784, -26_145, -2_639]];

/// Blue, green, red and an empty byte, row by row.
pub(super) fn bgr(raw: &mut frame::Video, rgb: &[u8], width: usize) {
    let stride = raw.stride(0);
    for (row, from) in raw.data_mut(0).chunks_mut(stride).zip(rgb.chunks_exact(3 * width)) {
        for (pixel, colour) in row.chunks_exact_mut(4).zip(from.chunks_exact(3)) {
            pixel.copy_from_slice(&[colour[2], colour[1], colour[0], 0]);
        }
    }
}

/// Luma at full size, chroma as the mean of two by two pixels.
pub(super) fn luma_and_chroma(raw: &mut frame::Video, rgb: &[u8], width: usize) {
    let stride = raw.stride(0);
    for (row, from) in raw.data_mut(0).chunks_mut(stride).zip(rgb.chunks_exact(3 * width)) {
        for (luma, colour) in row.iter_mut().zip(from.chunks_exact(3)) {
            *luma = weighed(LUMA, [colour[0], colour[1], colour[2]].map(i32::from), 16, 16);
        }
    }
    for (plane, weights) in CHROMA.into_iter().enumerate() {
        let stride = raw.stride(plane + 1);
        for (row, two) in raw.data_mut(plane + 1).chunks_mut(stride).zip(rgb.chunks_exact(6 * width)) {
            let (upper, lower) = two.split_at(3 * width);
            for ((chroma, above), below) in
                row.iter_mut().zip(upper.chunks_exact(6)).zip(lower.chunks_exact(6))
            {
                let sum =
                    |n: usize| [above[n], above[n + 3], below[n], below[n + 3]].map(i32::from).iter().sum();
                *chroma = weighed(weights, [sum(0), sum(1), sum(2)], 18, 128);
            }
        }
    }
}

/// Weighed sum of levels over 2^`bits`, rounded, above `zero`. The weights keep it within a byte.
fn weighed(weights: [i32; 3], levels: [i32; 3], bits: u32, zero: i32) -> u8 {
    let sum: i32 = weights.iter().zip(levels).map(|(weight, level)| weight * level).sum();
    let level = zero + ((sum + (1 << (bits - 1))) >> bits);
    u8::try_from(level.clamp(0, 255)).unwrap_or(u8::MAX)
}

#[cfg(test)]
mod tests {
    use super::{CHROMA, LUMA, weighed};

    /// BT.709 bars at full level, 8 bits: Y' = 16 + 219 E', C' = 128 + 224 E' of the recommendation's formulas, worked
    /// by hand.
    #[test]
    fn colours_become_those_of_the_recommendation() {
        let of = |rgb: [i32; 3]| {
            let [cb, cr] = CHROMA.map(|weights| weighed(weights, rgb, 16, 128));
            [weighed(LUMA, rgb, 16, 16), cb, cr]
        };
        assert_eq!(of([0, 0, 0]), [16, 128, 128]);
        assert_eq!(of([255, 255, 255]), [235, 128, 128]);
        // 16 + 219 × 0.2126 = 62.56; 128 − 224 × 0.2126 / 1.8556 = 102.34; 128 + 112 = 240.
        assert_eq!(of([255, 0, 0]), [63, 102, 240]);
        // 16 + 219 × 0.7152 = 172.63; 128 − 224 × 0.7152 / 1.8556 = 41.66; 128 − 224 × 0.7152 / 1.5748 = 26.27.
        assert_eq!(of([0, 255, 0]), [173, 42, 26]);
        // 16 + 219 × 0.0722 = 31.81; 240; 128 − 224 × 0.0722 / 1.5748 = 117.73.
        assert_eq!(of([0, 0, 255]), [32, 240, 118]);
    }
}
