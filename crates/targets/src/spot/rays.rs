//! Levels along rays of an ellipse's disc.

use super::ellipse::Ellipse;
use super::picture::Rings;
use super::pyramid::Pyramid;
use std::f64::consts::TAU;
use std::sync::LazyLock;

/// Rays around a centre; a multiple of 8.
pub(super) const N_RAYS: usize = 48;
/// A level of the pyramid suits a radius of this many of its pixels and up to twice that.
const RADIUS_ON_LEVEL_PX: f64 = 7.0;

/// Levels by ring and ray; ring `j` lies at the share `(j + 1) * step` of the radius.
pub(super) struct Rays<'a> {
    pub(super) source: Rings<'a>,
    pub(super) rings: Vec<[f32; N_RAYS]>,
    pub(super) step: f64,
}

/// Cosine and sine of each ray's direction.
pub(super) fn directions() -> &'static [(f64, f64); N_RAYS] {
    static DIRECTIONS: LazyLock<[(f64, f64); N_RAYS]> = LazyLock::new(|| {
        std::array::from_fn(|ray| {
            let (sin, cos) = (TAU * ray as f64 / N_RAYS as f64).sin_cos();
            (cos, sin)
        })
    });
    &DIRECTIONS
}

impl<'a> Rays<'a> {
    /// Rays that have not been read yet, of an ellipse's disc, with rings at `step` of its radius.
    pub(super) fn new(pyramid: &'a Pyramid, ellipse: &Ellipse, step: f64) -> Self {
        let radius_px = ellipse.map.determinant().abs().sqrt();
        let source = Rings::new(pyramid.picture(radius_px, RADIUS_ON_LEVEL_PX), ellipse, step);
        Self { source, rings: Vec::new(), step }
    }

    /// Numbers of the rings between two shares of the radius, counted from 1.
    pub(super) fn numbers(&self, low: f64, high: f64) -> std::ops::RangeInclusive<usize> {
        (low / self.step).ceil().max(1.0) as usize..=(high / self.step).floor() as usize
    }

    /// A ring that may lie beyond those read; `None` when it leaves the picture.
    pub(super) fn peek(&self, number: usize) -> Option<[f32; N_RAYS]> {
        self.source.some(number)
    }

    /// Rings outwards to the share `reach` of the radius, or as far as they lie in the picture.
    pub(super) fn cast(pyramid: &'a Pyramid, ellipse: &Ellipse, reach: f64, step: f64) -> Self {
        let mut rays = Self::new(pyramid, ellipse, step);
        rays.grow(reach);
        rays
    }

    /// Rings between two shares of the radius alone; those within are left at 0 and must not be asked for.
    pub(super) fn band(pyramid: &'a Pyramid, ellipse: &Ellipse, (low, high): (f64, f64), step: f64) -> Self {
        let mut rays = Self::new(pyramid, ellipse, step);
        let first = (low / step).floor().max(1.0) as usize;
        rays.skip_to(first - 1);
        rays.grow(high);
        rays
    }

    /// Leaves the first rings at 0; they must not be asked for.
    pub(super) fn skip_to(&mut self, n_rings: usize) {
        self.rings.resize(n_rings, [0.0; N_RAYS]);
    }

    /// Reads rings outwards to the share `reach`, or as far as they lie in the picture.
    pub(super) fn grow(&mut self, reach: f64) {
        self.grow_to((reach / self.step).round().max(1.0) as usize);
    }

    /// Reads rings up to a number, or as far as they lie in the picture.
    pub(super) fn grow_to(&mut self, n_rings: usize) {
        self.rings.reserve(n_rings.saturating_sub(self.rings.len()));
        while self.rings.len() < n_rings && self.read_next().is_some() {}
    }

    /// Reads one ring more; `None` when it leaves the picture.
    pub(super) fn read_next(&mut self) -> Option<&[f32; N_RAYS]> {
        let ring = self.source.some(self.rings.len() + 1)?;
        self.rings.push(ring);
        self.rings.last()
    }

    /// Share of the radius of the outermost ring that was read.
    pub(super) fn reach(&self) -> f64 {
        self.rings.len() as f64 * self.step
    }

    /// Share of the radius at which a ring lies.
    pub(super) fn share(&self, ring: usize) -> f64 {
        (ring + 1) as f64 * self.step
    }

    /// Rings between two shares of the radius.
    pub(super) fn between(&self, low: f64, high: f64) -> std::ops::Range<usize> {
        let first = (low / self.step).ceil().max(1.0) as usize - 1;
        let end = ((high / self.step).floor().max(0.0) as usize).min(self.rings.len());
        first.min(end)..end
    }

    /// Mean level of each ray between two shares; `None` where no ring lies there.
    pub(super) fn ray_means(&self, low: f64, high: f64) -> Option<[f64; N_RAYS]> {
        let range = self.between(low, high);
        let n = range.len() as f64;
        let mut means = [0.0; N_RAYS];
        for ring in range {
            means.iter_mut().zip(&self.rings[ring]).for_each(|(mean, grey)| *mean += f64::from(*grey) / n);
        }
        (n > 0.0).then_some(means)
    }

    /// Mean and variance of the levels between two shares, by area; `None` where no ring lies there.
    pub(super) fn moments(&self, low: f64, high: f64) -> Option<(f64, f64)> {
        let (mut weights, mut sum, mut squares) = (0.0, 0.0, 0.0);
        for ring in self.between(low, high) {
            let weight = self.share(ring);
            weights += weight * N_RAYS as f64;
            let levels = || self.rings[ring].iter().map(|&grey| f64::from(grey));
            sum += weight * levels().sum::<f64>();
            squares += weight * levels().map(|grey| grey * grey).sum::<f64>();
        }
        let mean = sum / weights;
        (weights > 0.0).then(|| (mean, (squares / weights - mean * mean).max(0.0)))
    }
}
