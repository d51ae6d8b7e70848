//! Grey levels on rings around a centre: how much of them is the two-cycle pattern of a quartered disc.

use filmgauge_quantities::{GreyView, PixelPoint};
use std::f64::consts::{PI, TAU};
use std::sync::LazyLock;

/// Samples on a ring; a multiple of 4, so that opposite places exist.
const N_SAMPLES: usize = 48;

/// One ring's two-cycle pattern.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ring {
    /// Cosine part of the two-cycle wave, grey levels.
    pub(crate) cos: f64,
    /// Sine part of the two-cycle wave, grey levels.
    pub(crate) sin: f64,
    /// Share of the ring's variance in the two-cycle wave and its third harmonic (a square wave's), 0 to 1.
    pub(crate) share: f64,
}

impl Ring {
    /// The ring of `radius_px` around `centre`; `None` when it leaves the picture.
    pub(crate) fn around(view: &GreyView, centre: PixelPoint, radius_px: f64) -> Option<Self> {
        let mut levels = [0.0; N_SAMPLES];
        for (level, (sin, cos)) in levels.iter_mut().zip(*DIRECTIONS) {
            *level = between(view, centre.x + radius_px * cos, centre.y + radius_px * sin)?;
        }
        let n = N_SAMPLES as f64;
        let mean = levels.iter().sum::<f64>() / n;
        let variance = levels.iter().map(|level| (level - mean).powi(2)).sum::<f64>() / n;
        let (cos, sin) = wave(&levels, 2);
        let (cos_6, sin_6) = wave(&levels, 6);
        let explained = (cos * cos + sin * sin + cos_6 * cos_6 + sin_6 * sin_6) / 2.0;
        Some(Self { cos, sin, share: if variance > 0.0 { (explained / variance).min(1.0) } else { 0.0 } })
    }

    /// Height of the two-cycle wave, grey levels.
    pub(crate) fn height(&self) -> f64 {
        self.cos.hypot(self.sin)
    }

    /// Direction of an edge after which, turning from x to y, the bright quarter follows; 0 to π.
    pub(crate) fn angle_rad(&self) -> f64 {
        (0.5 * (-self.cos).atan2(self.sin)).rem_euclid(PI)
    }
}

/// Sine and cosine of the directions of the samples.
static DIRECTIONS: LazyLock<[(f64, f64); N_SAMPLES]> =
    LazyLock::new(|| std::array::from_fn(|k| (TAU * k as f64 / N_SAMPLES as f64).sin_cos()));

/// Cosine and sine part of the wave of so many cycles.
fn wave(levels: &[f64; N_SAMPLES], n_cycles: usize) -> (f64, f64) {
    let (mut cos_sum, mut sin_sum) = (0.0, 0.0);
    for (k, level) in levels.iter().enumerate() {
        let (sin, cos) = DIRECTIONS[n_cycles * k % N_SAMPLES];
        cos_sum += level * cos;
        sin_sum += level * sin;
    }
    (2.0 * cos_sum / N_SAMPLES as f64, 2.0 * sin_sum / N_SAMPLES as f64)
}

/// Grey level between pixels, bilinear; `None` outside the picture.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "negative and non-finite places are turned away first, and the view checks the rest"
)]
pub(crate) fn between(view: &GreyView, x: f64, y: f64) -> Option<f64> {
    if !(x >= 0.0 && y >= 0.0 && x.is_finite() && y.is_finite()) {
        return None;
    }
    let (column, row) = (x as usize, y as usize);
    let (fx, fy) = (x.fract(), y.fract());
    let level = |dx: usize, dy: usize| view.get(column + dx, row + dy).map(f64::from);
    let right = usize::from(fx > 0.0);
    let below = usize::from(fy > 0.0);
    let top = level(0, 0)? * (1.0 - fx) + level(right, 0)? * fx;
    let bottom = level(0, below)? * (1.0 - fx) + level(right, below)? * fx;
    Some(top * (1.0 - fy) + bottom * fy)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::painted::{Canvas, Painted};

    #[test]
    fn a_painted_quadrant_shows_its_angle_and_is_nearly_all_pattern() {
        for angle_rad in [0.0, 0.4, 1.2, 2.9] {
            let target = Painted { angle_rad, ..Painted::new(30.3, 29.8, 12.0) };
            let image = Canvas::new(60, 60, |_, _| 100.0).paint(&target).eight(1.0, 1);
            let ring = Ring::around(&image.view(), target.centre, 7.0).unwrap();
            let off = (ring.angle_rad() - angle_rad + PI / 2.0).rem_euclid(PI) - PI / 2.0;
            // The bright quarters of the painted target lie where both of its axes are positive or negative.
            assert!(off.abs() < 0.01, "{angle_rad}: {}", ring.angle_rad());
            assert!(ring.share > 0.9 && ring.height() > 80.0);
        }
    }

    #[test]
    fn rings_outside_the_picture_are_none() {
        let image = Canvas::new(20, 20, |_, _| 100.0).eight(1.0, 1);
        assert!(Ring::around(&image.view(), PixelPoint::new(3.0, 10.0), 5.0).is_none());
        assert!(Ring::around(&image.view(), PixelPoint::new(f64::NAN, 10.0), 5.0).is_none());
        assert!(between(&image.view(), 19.0, 19.0).is_some());
    }
}
