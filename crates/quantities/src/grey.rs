//! Grey images as stored: a borrowed view with stride and true bits, an owned image, and float patches.

/// Samples of a grey image in the width they are stored in.
#[derive(Debug, Clone, Copy)]
pub enum GreyPixels<'a> {
    /// One byte a pixel.
    Eight(&'a [u8]),
    /// Two bytes a pixel, machine order.
    Sixteen(&'a [u16]),
}

/// The sizes given do not fit the samples given.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "a grey image of {width} x {height} px with {stride} samples a row and {bits} bits does not fit {n_samples} samples"
)]
pub struct LayoutError {
    width: usize,
    height: usize,
    stride: usize,
    bits: u8,
    n_samples: usize,
}

/// A borrowed grey image. Grey levels are as stored, from 0 to [`GreyView::full_scale`].
#[derive(Debug, Clone, Copy)]
pub struct GreyView<'a> {
    width: usize,
    height: usize,
    stride: usize,
    bits: u8,
    pixels: GreyPixels<'a>,
}

impl<'a> GreyView<'a> {
    /// A view of `width` x `height` px over rows that lie `stride` samples apart; `bits` significant bits (1 to 16).
    ///
    /// # Errors
    /// [`LayoutError`] when a size is zero, a row is longer than the stride, the bits do not fit the
    /// samples, or the samples are too few.
    pub fn new(
        width: usize,
        height: usize,
        stride: usize,
        bits: u8,
        pixels: GreyPixels<'a>,
    ) -> Result<Self, LayoutError> {
        let (n_samples, most_bits) = match pixels {
            GreyPixels::Eight(samples) => (samples.len(), 8),
            GreyPixels::Sixteen(samples) => (samples.len(), 16),
        };
        let needed = height.checked_sub(1).and_then(|rows| rows.checked_mul(stride)?.checked_add(width));
        let fits = width > 0
            && width <= stride
            && (1..=most_bits).contains(&bits)
            && needed.is_some_and(|needed| needed <= n_samples);
        if fits {
            Ok(Self { width, height, stride, bits, pixels })
        } else {
            Err(LayoutError { width, height, stride, bits, n_samples })
        }
    }

    /// Pixels in a row.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// Number of rows.
    #[must_use]
    pub fn height(&self) -> usize {
        self.height
    }

    /// Significant bits of a sample.
    #[must_use]
    pub fn bits(&self) -> u8 {
        self.bits
    }

    /// Samples from the start of one row to the start of the next.
    #[must_use]
    pub fn stride(&self) -> usize {
        self.stride
    }

    /// The samples, row after row, `stride` apart.
    #[must_use]
    pub fn pixels(&self) -> GreyPixels<'a> {
        self.pixels
    }

    /// The greatest grey level that the bits can hold.
    #[must_use]
    pub fn full_scale(&self) -> f32 {
        f32::from(u16::try_from((1_u32 << self.bits) - 1).unwrap_or(u16::MAX))
    }

    /// Grey level at column `x`, row `y`; `None` outside the image.
    #[must_use]
    pub fn get(&self, x: usize, y: usize) -> Option<f32> {
        if x >= self.width || y >= self.height {
            return None;
        }
        let at = y * self.stride + x;
        Some(match self.pixels {
            GreyPixels::Eight(samples) => f32::from(samples[at]),
            GreyPixels::Sixteen(samples) => f32::from(samples[at]),
        })
    }

    /// A copy of the rectangle whose top-left pixel is (x0, y0); `None` unless it lies wholly inside.
    #[must_use]
    pub fn patch(&self, x0: i64, y0: i64, width: usize, height: usize) -> Option<Patch> {
        let left = usize::try_from(x0).ok()?;
        let top = usize::try_from(y0).ok()?;
        let inside = width > 0
            && height > 0
            && left.checked_add(width)? <= self.width
            && top.checked_add(height)? <= self.height;
        if !inside {
            return None;
        }
        let mut grey = Vec::with_capacity(width * height);
        for row in 0..height {
            let from = (top + row) * self.stride + left;
            match self.pixels {
                GreyPixels::Eight(samples) => {
                    grey.extend(samples[from..from + width].iter().map(|&level| f32::from(level)));
                }
                GreyPixels::Sixteen(samples) => {
                    grey.extend(samples[from..from + width].iter().map(|&level| f32::from(level)));
                }
            }
        }
        Some(Patch { x0, y0, width, height, grey })
    }

    /// The rectangle whose top-left pixel is (left, top), as an image of its own; `None` unless it lies wholly inside and
    /// holds a pixel.
    #[must_use]
    pub fn cut(&self, left: usize, top: usize, width: usize, height: usize) -> Option<GreyImage> {
        let inside = width > 0
            && height > 0
            && left.checked_add(width)? <= self.width
            && top.checked_add(height)? <= self.height;
        if !inside {
            return None;
        }
        let from = top * self.stride + left;
        let pixels = match self.pixels {
            GreyPixels::Eight(samples) => GreyPixels::Eight(&samples[from..]),
            GreyPixels::Sixteen(samples) => GreyPixels::Sixteen(&samples[from..]),
        };
        Some(Self { width, height, pixels, ..*self }.to_image())
    }

    /// Mean grey level over every `step`-th pixel of every `step`-th row (`step` of at least 1).
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "sums stay far below 2^53")]
    pub fn mean_level(&self, step: usize) -> f64 {
        let step = step.max(1);
        let mut sum = 0_u64;
        let mut n_pixels = 0_u64;
        for row in (0..self.height).step_by(step) {
            let from = row * self.stride;
            let to = from + self.width;
            n_pixels += self.width.div_ceil(step) as u64;
            sum += match self.pixels {
                GreyPixels::Eight(samples) => {
                    samples[from..to].iter().step_by(step).map(|&level| u64::from(level)).sum::<u64>()
                }
                GreyPixels::Sixteen(samples) => {
                    samples[from..to].iter().step_by(step).map(|&level| u64::from(level)).sum::<u64>()
                }
            };
        }
        sum as f64 / n_pixels as f64
    }

    /// An owned copy with tight rows.
    #[must_use]
    pub fn to_image(&self) -> GreyImage {
        let samples = match self.pixels {
            GreyPixels::Eight(samples) => Samples::Eight(rows(samples, self.width, self.height, self.stride)),
            GreyPixels::Sixteen(samples) => {
                Samples::Sixteen(rows(samples, self.width, self.height, self.stride))
            }
        };
        GreyImage { width: self.width, height: self.height, bits: self.bits, samples }
    }
}

fn rows<T: Copy>(samples: &[T], width: usize, height: usize, stride: usize) -> Vec<T> {
    let mut tight = Vec::with_capacity(width * height);
    for row in 0..height {
        tight.extend_from_slice(&samples[row * stride..row * stride + width]);
    }
    tight
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Samples {
    Eight(Vec<u8>),
    Sixteen(Vec<u16>),
}

/// An owned grey image with tight rows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GreyImage {
    width: usize,
    height: usize,
    bits: u8,
    samples: Samples,
}

impl GreyImage {
    /// An 8-bit image from `width` x `height` tight samples.
    ///
    /// # Errors
    /// [`LayoutError`] when the samples do not fit the sizes.
    pub fn from_u8(width: usize, height: usize, samples: Vec<u8>) -> Result<Self, LayoutError> {
        GreyView::new(width, height, width, 8, GreyPixels::Eight(&samples))?;
        Ok(Self { width, height, bits: 8, samples: Samples::Eight(samples) })
    }

    /// An image of 9 to 16 (or fewer) significant bits in 16-bit samples.
    ///
    /// # Errors
    /// [`LayoutError`] when the samples do not fit the sizes.
    pub fn from_u16(width: usize, height: usize, bits: u8, samples: Vec<u16>) -> Result<Self, LayoutError> {
        GreyView::new(width, height, width, bits, GreyPixels::Sixteen(&samples))?;
        Ok(Self { width, height, bits, samples: Samples::Sixteen(samples) })
    }

    /// The borrowed view.
    #[must_use]
    pub fn view(&self) -> GreyView<'_> {
        let pixels = match &self.samples {
            Samples::Eight(samples) => GreyPixels::Eight(samples),
            Samples::Sixteen(samples) => GreyPixels::Sixteen(samples),
        };
        GreyView { width: self.width, height: self.height, stride: self.width, bits: self.bits, pixels }
    }
}

/// A small rectangle of grey levels as floats, for interpolation; knows where it was cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Patch {
    /// Column of the patch's first pixel in the image.
    pub x0: i64,
    /// Row of the patch's first pixel in the image.
    pub y0: i64,
    /// Pixels in a row.
    pub width: usize,
    /// Number of rows.
    pub height: usize,
    /// Grey levels, row after row, tight.
    pub grey: Vec<f32>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn views_refuse_sizes_that_do_not_fit() {
        let samples = [0_u8; 12];
        assert!(GreyView::new(4, 3, 4, 8, GreyPixels::Eight(&samples)).is_ok());
        assert!(GreyView::new(3, 3, 4, 8, GreyPixels::Eight(&samples[..11])).is_ok());
        assert!(GreyView::new(4, 4, 4, 8, GreyPixels::Eight(&samples)).is_err());
        assert!(GreyView::new(5, 2, 4, 8, GreyPixels::Eight(&samples)).is_err());
        assert!(GreyView::new(4, 3, 4, 9, GreyPixels::Eight(&samples)).is_err());
        assert!(GreyView::new(0, 3, 4, 8, GreyPixels::Eight(&samples)).is_err());
        assert!(GreyView::new(4, 0, 4, 8, GreyPixels::Eight(&samples)).is_err());
        assert!(GreyView::new(4, usize::MAX, 4, 8, GreyPixels::Eight(&samples)).is_err());
    }

    #[test]
    fn patches_lie_wholly_inside_or_not_at_all() {
        let image = GreyImage::from_u8(4, 3, (0..12).collect()).unwrap();
        let patch = image.view().patch(1, 1, 2, 2).unwrap();
        assert_eq!(patch.grey, [5.0, 6.0, 9.0, 10.0]);
        assert!(image.view().patch(-1, 0, 2, 2).is_none());
        assert!(image.view().patch(3, 1, 2, 2).is_none());
        assert_eq!(image.view().get(3, 2), Some(11.0));
        assert_eq!(image.view().get(4, 2), None);
        assert!((image.view().mean_level(1) - 5.5).abs() < 1e-12);
        assert_eq!(image.view().cut(1, 1, 3, 2), GreyImage::from_u8(3, 2, vec![5, 6, 7, 9, 10, 11]).ok());
        assert!(image.view().cut(2, 0, 3, 1).is_none() && image.view().cut(0, 0, 0, 1).is_none());
    }

    #[test]
    fn a_strided_view_copies_to_tight_rows() {
        let samples = [1_u16, 2, 9, 3, 4, 9];
        let view = GreyView::new(2, 2, 3, 12, GreyPixels::Sixteen(&samples)).unwrap();
        assert!((view.full_scale() - 4095.0).abs() < 1e-6);
        assert_eq!(view.to_image(), GreyImage::from_u16(2, 2, 12, vec![1, 2, 3, 4]).unwrap());
    }
}
