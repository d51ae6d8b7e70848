//! Filters for comparison with the smoother and for tradition: zero-phase Butterworth, Savitzky-Golay. Even times, no gaps.

mod butterworth;
mod linear;
mod residuals;
mod savitzky_golay;

pub use butterworth::{ButterworthOptions, CutOff, butterworth};
pub use linear::Filtered;
pub use residuals::{ResidualAnalysis, ResidualOptions, residual_cut_off};
pub use savitzky_golay::{SavitzkyGolayOptions, savitzky_golay, savitzky_golay_weights};

#[cfg(test)]
mod tests;
