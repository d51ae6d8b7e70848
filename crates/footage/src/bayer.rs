//! Luma from a colour mosaic (Bayer): each pixel's missing colours from its nearest neighbours of that colour.

use crate::weights::WEIGHTS;

/// Where red lies in each square of 2 x 2 px; blue lies diagonally opposite, green in the other two.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Mosaic {
    /// Column of red, 0 or 1.
    red_x: usize,
    /// Row of red, 0 or 1.
    red_y: usize,
}

impl Mosaic {
    /// From the colours of the first square, row by row, such as "rggb".
    pub(crate) fn named(name: &str) -> Option<Self> {
        let (red_x, red_y) = match name {
            "rggb" => (0, 0),
            "grbg" => (1, 0),
            "gbrg" => (0, 1),
            "bggr" => (1, 1),
            _ => return None,
        };
        Some(Self { red_x, red_y })
    }

    /// Luma of every pixel. Missing colours are means of the two or four nearest samples of that colour (bilinear);
    /// the picture goes on beyond its edges as its own mirror image, which keeps the order of colours. Weighted and
    /// rounded once. `samples` holds `width` x `height` levels of at most 16 bits.
    pub(crate) fn luma(self, width: usize, height: usize, samples: &[u16]) -> Vec<u16> {
        let mut luma = Vec::with_capacity(samples.len());
        for y in 0..height {
            let rows = [inside(y, -1, height), y, inside(y, 1, height)].map(|row| &samples[row * width..]);
            for x in 0..width {
                let columns = [inside(x, -1, width), x, inside(x, 1, width)];
                luma.push(self.luma_at(x, y, rows, columns));
            }
        }
        luma
    }

    fn luma_at(self, x: usize, y: usize, rows: [&[u16]; 3], columns: [usize; 3]) -> u16 {
        let at = |row: usize, column: usize| u32::from(rows[row][columns[column]]);
        // Everything is four times as large, so that means of four stay whole.
        let here = 4 * at(1, 1);
        let beside = 2 * (at(1, 0) + at(1, 2));
        let above = 2 * (at(0, 1) + at(2, 1));
        let corners = at(0, 0) + at(0, 2) + at(2, 0) + at(2, 2);
        let cross = (beside + above) / 2;
        let (red, green, blue) = match (x % 2 == self.red_x, y % 2 == self.red_y) {
            (true, true) => (here, cross, corners),
            (false, true) => (beside, here, above),
            (true, false) => (above, here, beside),
            (false, false) => (corners, cross, here),
        };
        let luma = (WEIGHTS[0] * red + WEIGHTS[1] * green + WEIGHTS[2] * blue + 2000) / 4000;
        u16::try_from(luma).unwrap_or(u16::MAX)
    }
}

/// The neighbour of `at` on one side, mirrored at the edge: two steps inside keep the colour.
fn inside(at: usize, step: isize, size: usize) -> usize {
    at.checked_add_signed(step)
        .filter(|place| *place < size)
        .or_else(|| at.checked_add_signed(-step).filter(|place| *place < size))
        .unwrap_or(at)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_grey_scene_stays_grey() {
        let mosaic = Mosaic::named("grbg").unwrap();
        let luma = mosaic.luma(5, 3, &[40_000; 15]);
        assert_eq!(luma, [40_000; 15]);
        assert_eq!(mosaic.luma(1, 1, &[7]), [7]);
    }

    #[test]
    fn each_colour_has_its_weight_everywhere() {
        // Red 1000, green 2000, blue 4000 all over: every pixel sees the same colour.
        let expected = 299 + 2 * 587 + 4 * 114;
        for name in ["rggb", "grbg", "gbrg", "bggr"] {
            let level = |x: usize, y: usize| match name.as_bytes()[2 * (y % 2) + x % 2] {
                b'r' => 1000,
                b'g' => 2000,
                _ => 4000,
            };
            let samples: Vec<u16> = (0..20).map(|at| level(at % 5, at / 5)).collect();
            assert_eq!(Mosaic::named(name).unwrap().luma(5, 4, &samples), [expected; 20], "{name}");
        }
        assert!(Mosaic::named("rgbg").is_none());
    }
}
