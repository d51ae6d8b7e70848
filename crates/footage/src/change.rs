//! How much a picture differs from the one before it, from a sample of its pixels.

use filmgauge_quantities::{GreyPixels, GreyView};

/// Levels of every so many-th pixel of every so many-th row.
#[derive(Debug, Clone)]
pub(crate) struct Sampled {
    levels: Vec<u16>,
}

impl Sampled {
    pub(crate) fn of(view: &GreyView<'_>, step_px: usize) -> Self {
        let (width, stride) = (view.width(), view.stride());
        let rows = (0..view.height()).step_by(step_px).map(|row| row * stride..row * stride + width);
        let levels = match view.pixels() {
            GreyPixels::Eight(samples) => rows
                .flat_map(|row| samples[row].iter().step_by(step_px).map(|&level| u16::from(level)))
                .collect(),
            GreyPixels::Sixteen(samples) => {
                rows.flat_map(|row| samples[row].iter().step_by(step_px).copied()).collect()
            }
        };
        Self { levels }
    }

    /// Mean absolute difference of level; `None` for pictures of different size.
    #[expect(clippy::cast_precision_loss, reason = "sums of 16-bit levels over one picture stay below 2^53")]
    pub(crate) fn change_to(&self, next: &Self) -> Option<f64> {
        if self.levels.len() != next.levels.len() || self.levels.is_empty() {
            return None;
        }
        let pairs = self.levels.iter().zip(&next.levels);
        let sum: u64 = pairs.map(|(before, after)| u64::from(before.abs_diff(*after))).sum();
        Some(sum as f64 / self.levels.len() as f64)
    }
}
