//! The raster of a patch: its pixels in a frame, what the spline needs around them, and what its levels say at once.

use super::columns::Points;
use super::failure::TextureFailure;
use super::ground::{Extent, Ground};
use super::options::TextureOptions;
use super::place::TexturePlace;
use filmgauge_quantities::{GreyView, PixelPoint};

/// Sides that a patch may have, px.
const SIDES: std::ops::RangeInclusive<usize> = 7..=401;

/// Size of a patch, px: odd, 7 to 401.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PatchSize {
    /// Pixels in a row.
    pub width: usize,
    /// Number of rows.
    pub height: usize,
}

impl PatchSize {
    /// A square of `side` px.
    #[must_use]
    pub fn square(side: usize) -> Self {
        Self { width: side, height: side }
    }

    fn is_sound(self) -> bool {
        [self.width, self.height].iter().all(|side| SIDES.contains(side) && side % 2 == 1)
    }
}

/// The raster of a patch around a centre.
pub(super) struct Grid {
    pub(super) first: (i64, i64),
    pub(super) size: PatchSize,
    /// Offset of the first pixel from the centre.
    pub(super) corner: (f64, f64),
}

impl Grid {
    #[expect(clippy::cast_possible_truncation, reason = "the centre is checked to be a small finite number")]
    pub(super) fn around(centre: PixelPoint, size: PatchSize) -> Result<Self, TextureFailure> {
        if !size.is_sound() {
            return Err(TextureFailure::Size { width: size.width, height: size.height });
        }
        if !TexturePlace::at(centre).is_sound() {
            return Err(TextureFailure::Guess);
        }
        let first = (
            centre.x.round() as i64 - (size.width / 2) as i64,
            centre.y.round() as i64 - (size.height / 2) as i64,
        );
        let corner = (first.0 as f64 - centre.x, first.1 as f64 - centre.y);
        Ok(Self { first, size, corner })
    }

    /// The patch's pixels and what the spline needs around them.
    pub(super) fn extent(&self, options: &TextureOptions) -> Extent {
        let margin = options.interpolation.left() as i64;
        Extent {
            left: self.first.0 - margin,
            top: self.first.1 - margin,
            right: self.first.0 + self.size.width as i64 + margin + 1,
            bottom: self.first.1 + self.size.height as i64 + margin + 1,
        }
    }

    /// Offsets of the pixels from the centre, row after row.
    pub(super) fn offsets(&self) -> impl Iterator<Item = (f64, f64)> {
        let (left, top) = self.corner;
        (0..self.size.height).flat_map(move |row| {
            (0..self.size.width).map(move |column| (left + column as f64, top + row as f64))
        })
    }

    /// Offsets, levels and derivatives from a ground that covers exactly [`Grid::extent`].
    pub(super) fn points(&self, ground: &Ground, options: &TextureOptions) -> Points {
        let spline = options.interpolation;
        Points {
            u: self.offsets().map(|(u, _)| u).collect(),
            v: self.offsets().map(|(_, v)| v).collect(),
            level: ground.derivative(spline, (0, 0)),
            slope_x: ground.derivative(spline, (1, 0)),
            slope_y: ground.derivative(spline, (0, 1)),
            bend: [(2, 0), (1, 1), (0, 2)].map(|order| ground.derivative(spline, order)),
        }
    }
}

pub(super) fn inside(
    view: &GreyView,
    first: (i64, i64),
    size: PatchSize,
    centre: PixelPoint,
) -> Result<(), TextureFailure> {
    let holds = |first: i64, side: usize, length: usize| first >= 0 && first + side as i64 <= length as i64;
    if holds(first.0, size.width, view.width()) && holds(first.1, size.height, view.height()) {
        Ok(())
    } else {
        Err(TextureFailure::LeftPicture { x: centre.x, y: centre.y })
    }
}

pub(super) fn mean(view: &GreyView, first: (i64, i64), size: PatchSize) -> f64 {
    let Some(patch) = view.patch(first.0, first.1, size.width, size.height) else { return 0.0 };
    patch.grey.iter().map(|&level| f64::from(level)).sum::<f64>() / patch.grey.len() as f64
}

pub(super) fn deviation(levels: &[f64]) -> f64 {
    let n = levels.len().max(1) as f64;
    let mean = levels.iter().sum::<f64>() / n;
    (levels.iter().map(|level| (level - mean).powi(2)).sum::<f64>() / n).sqrt()
}

/// An upper estimate of one pixel's noise from a single picture: second differences both ways, in which smooth texture
/// hardly appears (Immerkær 1996, Computer Vision and Image Understanding 64:300-302).
pub(super) fn rough_noise(levels: &[f64], width: usize) -> f64 {
    let height = levels.len() / width;
    let at = |x: usize, y: usize| levels[y * width + x];
    let mut sum = 0.0;
    for y in 1..height - 1 {
        for x in 1..width - 1 {
            let row = |y: usize| at(x - 1, y) - 2.0 * at(x, y) + at(x + 1, y);
            sum += (row(y - 1) - 2.0 * row(y) + row(y + 1)).abs();
        }
    }
    let n = ((width - 2) * (height - 2)) as f64;
    (std::f64::consts::PI / 2.0).sqrt() * sum / (6.0 * n)
}
