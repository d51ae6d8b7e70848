//! Frame numbers and integer time: ticks count, the time scale says how long a tick lasts.

use serde::{Deserialize, Serialize};

/// Number of a frame within one camera's footage, counted from 0 in order of presentation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct FrameNumber(pub u32);

impl std::fmt::Display for FrameNumber {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// Seconds per tick as an exact fraction: `numerator / denominator`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct TimeScale {
    numerator: u32,
    denominator: u32,
}

impl TimeScale {
    /// A time scale; `None` when either part is zero.
    #[must_use]
    pub fn new(numerator: u32, denominator: u32) -> Option<Self> {
        (numerator > 0 && denominator > 0).then_some(Self { numerator, denominator })
    }

    /// Length of one tick in seconds.
    #[must_use]
    pub fn tick_s(self) -> f64 {
        f64::from(self.numerator) / f64::from(self.denominator)
    }
}

/// An instant as a count of ticks of a time scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct TickTime {
    /// Ticks since the origin of the clock; may be negative.
    pub ticks: i64,
    /// What one tick is.
    pub scale: TimeScale,
}

impl TickTime {
    /// Seconds since the origin of the clock.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "exact below 2^53 ticks: 285 years at 1 MHz")]
    pub fn as_s(self) -> f64 {
        self.ticks as f64 * f64::from(self.scale.numerator) / f64::from(self.scale.denominator)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_become_seconds_without_drift() {
        let ntsc = TimeScale::new(1001, 30000).unwrap();
        assert!((TickTime { ticks: 30000, scale: ntsc }.as_s() - 1001.0).abs() < 1e-9);
        assert!(TimeScale::new(0, 1).is_none());
    }
}
