//! The light of a frame: its mean level, and whether it shows anything at all. A frame that is black, saturated or all of one
//! grey is said once, with what to do.

use super::options::FollowOptions;
use filmgauge_quantities::{FrameNumber, GapCause, GreyPixels, GreyView};

/// Every so many pixels of every so many rows are looked at, or more where the picture has more than that many rows that way.
const LEAST_STEP: usize = 8;

/// Rows that are looked at in a large picture.
const ROWS: usize = 64;

/// A frame whose levels all lie within this share of full scale shows nothing.
const FLAT_SHARE: f32 = 0.012;

/// Share of pixels at the ceiling from which a frame counts as saturated as a whole.
const SATURATED_SHARE: f64 = 0.98;

/// Levels of a raster of pixels.
#[derive(Debug, Clone, Copy)]
pub(super) struct Light {
    /// Mean grey level.
    pub(super) mean: f64,
    low: f32,
    high: f32,
    saturated_share: f64,
}

impl Light {
    pub(super) fn of(view: &GreyView, options: &FollowOptions) -> Self {
        #[expect(clippy::cast_possible_truncation, reason = "a grey level")]
        let ceiling = options.locate.saturation_share as f32 * view.full_scale();
        match view.pixels() {
            GreyPixels::Eight(samples) => Self::of_samples(samples, view, ceiling),
            GreyPixels::Sixteen(samples) => Self::of_samples(samples, view, ceiling),
        }
    }

    fn of_samples<T: Copy + Into<f32>>(samples: &[T], view: &GreyView, ceiling: f32) -> Self {
        let step = LEAST_STEP.max(view.height() / ROWS);
        let (mut low, mut high) = (f32::INFINITY, f32::NEG_INFINITY);
        let (mut n, mut n_saturated, mut sum) = (0_u32, 0_u32, 0.0_f64);
        for row in samples.chunks(view.stride()).take(view.height()).step_by(step) {
            for &sample in row[..view.width()].iter().step_by(step) {
                let level: f32 = sample.into();
                (low, high) = (low.min(level), high.max(level));
                n += 1;
                n_saturated += u32::from(level >= ceiling);
                sum += f64::from(level);
            }
        }
        let n = f64::from(n);
        Self { mean: sum / n, low, high, saturated_share: f64::from(n_saturated) / n }
    }

    /// Cause and words for a frame in which nothing can be seen; `None` for any other.
    pub(super) fn blank(&self, frame: FrameNumber, full_scale: f32) -> Option<(GapCause, String)> {
        if self.saturated_share >= SATURATED_SHARE {
            let why =
                format!("frame {frame} is saturated all over; expose less, or leave it out of the footage");
            return Some((GapCause::Flash, why));
        }
        if self.high - self.low > FLAT_SHARE * full_scale {
            return None;
        }
        let what = if self.high < 0.05 * full_scale { "black" } else { "all of one grey" };
        let why = format!(
            "frame {frame} is {what}; look whether the film runs there, or leave it out of the footage"
        );
        Some((GapCause::Hidden, why))
    }
}
