//! Correlation of a raster with a smaller one, directly or by FFT, and sums over windows.

use super::sample::row_products;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

/// Rows are padded with zeros to whole wide registers.
const LANES: usize = 16;

/// A rectangle of numbers; rows lie `stride` apart, zeros between.
#[derive(Debug, Clone)]
pub(super) struct Raster {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) stride: usize,
    pub(super) cells: Vec<f32>,
}

impl Raster {
    pub(super) fn new(width: usize, height: usize) -> Self {
        let stride = width.next_multiple_of(LANES);
        Self { width, height, stride, cells: vec![0.0; stride * height] }
    }

    pub(super) fn from_levels(width: usize, height: usize, levels: impl Iterator<Item = f32>) -> Self {
        let mut raster = Self::new(width, height);
        for (i, level) in levels.take(width * height).enumerate() {
            raster.set(i % width, i / width, level);
        }
        raster
    }

    pub(super) fn at(&self, x: usize, y: usize) -> f32 {
        self.cells[y * self.stride + x]
    }

    pub(super) fn set(&mut self, x: usize, y: usize, value: f32) {
        self.cells[y * self.stride + x] = value;
    }

    pub(super) fn sum(&self) -> f64 {
        self.cells.iter().map(|&cell| f64::from(cell)).sum()
    }

    pub(super) fn mapped(&self, change: impl Fn(f32) -> f32) -> Self {
        let cells = self.cells.iter().map(|&cell| change(cell)).collect();
        Self { cells, ..*self }
    }

    /// Sum over every window of `size` wholly inside.
    #[expect(clippy::cast_possible_truncation, reason = "sums of levels in single precision")]
    pub(super) fn window_sums(&self, (width, height): (usize, usize)) -> Self {
        let table_width = self.width + 1;
        let mut table = vec![0.0_f64; table_width * (self.height + 1)];
        for y in 0..self.height {
            let mut along = 0.0;
            for x in 0..self.width {
                along += f64::from(self.at(x, y));
                table[(y + 1) * table_width + x + 1] = table[y * table_width + x + 1] + along;
            }
        }
        let mut out = Self::new(self.width + 1 - width, self.height + 1 - height);
        for y in 0..out.height {
            for x in 0..out.width {
                let at = |x: usize, y: usize| table[y * table_width + x];
                let sum = at(x + width, y + height) - at(x, y + height) - at(x + width, y) + at(x, y);
                out.set(x, y, sum as f32);
            }
        }
        out
    }
}

/// Sum of products of `pattern` with the part of `field` under it, at every place wholly inside.
pub(super) fn directly(field: &Raster, pattern: &Raster) -> Raster {
    let mut out = Raster::new(field.width + 1 - pattern.width, field.height + 1 - pattern.height);
    // The pattern's padding meets levels beyond its right side, times zero.
    let mut levels = field.cells.clone();
    levels.resize(levels.len() + pattern.stride, 0.0);
    for y in 0..out.height {
        for x in 0..out.width {
            let under = &levels[y * field.stride + x..];
            out.set(x, y, row_products(under, field.stride, &pattern.cells, pattern.stride));
        }
    }
    out
}

/// The same by FFT.
pub(super) fn by_fft(field: &Raster, pattern: &Raster) -> Raster {
    let (width, height) = (smooth(field.width), smooth(field.height));
    let plane = Plane::new(width, height);
    let mut product = plane.forward(field);
    let other = plane.forward(pattern);
    for (a, b) in product.iter_mut().zip(&other) {
        *a *= b.conj();
    }
    plane.back(product, field.width + 1 - pattern.width, field.height + 1 - pattern.height)
}

/// The next even length without prime factors above 5.
fn smooth(length: usize) -> usize {
    let is_smooth = |n: usize| {
        let mut n = n;
        for prime in [2, 3, 5] {
            while n.is_multiple_of(prime) {
                n /= prime;
            }
        }
        n == 1
    };
    (length.next_multiple_of(2)..).step_by(2).find(|n| is_smooth(*n)).unwrap_or(length)
}

/// Two-dimensional transforms of one size.
struct Plane {
    width: usize,
    height: usize,
    along: std::sync::Arc<dyn realfft::RealToComplex<f32>>,
    along_back: std::sync::Arc<dyn realfft::ComplexToReal<f32>>,
    down: std::sync::Arc<dyn rustfft::Fft<f32>>,
    down_back: std::sync::Arc<dyn rustfft::Fft<f32>>,
}

impl Plane {
    fn new(width: usize, height: usize) -> Self {
        let mut real = RealFftPlanner::new();
        let mut complex = rustfft::FftPlanner::new();
        Self {
            width,
            height,
            along: real.plan_fft_forward(width),
            along_back: real.plan_fft_inverse(width),
            down: complex.plan_fft_forward(height),
            down_back: complex.plan_fft_inverse(height),
        }
    }

    fn n_waves(&self) -> usize {
        self.width / 2 + 1
    }

    /// Spectrum, column after column.
    fn forward(&self, raster: &Raster) -> Vec<Complex<f32>> {
        let n_waves = self.n_waves();
        let mut spectrum = vec![Complex::default(); n_waves * self.height];
        let mut line = self.along.make_input_vec();
        let mut waves = self.along.make_output_vec();
        for row in 0..raster.height {
            let levels = &raster.cells[row * raster.stride..][..raster.width];
            line[..raster.width].copy_from_slice(levels);
            line[raster.width..].fill(0.0);
            // Fails only for lengths that do not fit, and these were made to.
            if self.along.process(&mut line, &mut waves).is_ok() {
                for (k, wave) in waves.iter().enumerate() {
                    spectrum[k * self.height + row] = *wave;
                }
            }
        }
        self.down.process(&mut spectrum);
        spectrum
    }

    /// The first `width` x `height` numbers of the raster that has `spectrum`.
    #[expect(clippy::cast_precision_loss, reason = "sizes of some thousand")]
    fn back(&self, mut spectrum: Vec<Complex<f32>>, width: usize, height: usize) -> Raster {
        self.down_back.process(&mut spectrum);
        let scale = 1.0 / (self.width * self.height) as f32;
        let mut out = Raster::new(width, height);
        let mut waves = self.along_back.make_input_vec();
        let mut line = self.along_back.make_output_vec();
        for row in 0..height {
            for (k, wave) in waves.iter_mut().enumerate() {
                *wave = spectrum[k * self.height + row];
            }
            // A real raster's first and last waves are real; rounding may say otherwise.
            waves[0].im = 0.0;
            waves[self.width / 2].im = 0.0;
            if self.along_back.process(&mut waves, &mut line).is_ok() {
                for (x, value) in line.iter().take(width).enumerate() {
                    out.set(x, row, value * scale);
                }
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ways_give_the_same_sums() {
        let field = Raster::from_levels(45, 38, (0..45 * 38).map(|i| ((i * 7919) % 101) as f32 - 50.0));
        let pattern = Raster::from_levels(11, 9, (0..99).map(|i| ((i * 37) % 23) as f32 - 11.0));
        let (plain, fast) = (directly(&field, &pattern), by_fft(&field, &pattern));
        assert_eq!((plain.width, plain.height), (35, 30));
        for (a, b) in plain.cells.iter().zip(&fast.cells) {
            assert!((a - b).abs() < 0.5, "{a} {b}");
        }
        let ones = Raster::from_levels(11, 9, std::iter::repeat_n(1.0, 99));
        let (sums, table) = (directly(&field, &ones), field.window_sums((11, 9)));
        for (a, b) in sums.cells.iter().zip(&table.cells) {
            assert!((a - b).abs() < 0.1, "{a} {b}");
        }
    }
}
