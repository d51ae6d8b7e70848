//! A value with its standard uncertainty (JCGM 100: GUM).

use crate::scalar::Quantity;
use serde::{Deserialize, Serialize};

/// Coverage factor of a two-sided 95 % interval of a normal distribution.
pub const COVERAGE_95: f64 = 1.959_963_984_540_054;

/// A quantity and one standard uncertainty of it, in the same unit. `u` is never negative.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Uncertain<Q> {
    /// Best estimate.
    pub value: Q,
    /// One standard uncertainty.
    pub u: Q,
}

impl<Q: Quantity> Uncertain<Q> {
    /// Value and standard uncertainty; the sign of `u` is dropped.
    #[must_use]
    pub fn new(value: Q, u: Q) -> Self {
        Self { value, u: Q::from_si(u.si().abs()) }
    }

    /// Half-width of the 95 % interval.
    #[must_use]
    pub fn half_width_95(&self) -> Q {
        Q::from_si(self.u.si() * COVERAGE_95)
    }

    /// Whether the 95 % interval contains `truth`.
    #[must_use]
    pub fn contains_95(&self, truth: Q) -> bool {
        (truth.si() - self.value.si()).abs() <= self.half_width_95().si()
    }

    /// Standard uncertainty divided by the value; `None` at a value of zero.
    #[must_use]
    pub fn relative(&self) -> Option<f64> {
        let value = self.value.si();
        (value != 0.0).then(|| (self.u.si() / value).abs())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Length;

    #[test]
    fn interval_and_relative() {
        let board = Uncertain::new(Length::from_m(2.0), Length::from_mm(-1.0));
        assert!((board.u.as_mm() - 1.0).abs() < 1e-12);
        assert!((board.relative().unwrap() - 0.0005).abs() < 1e-12);
        assert!(board.contains_95(Length::from_m(2.0019)));
        assert!(!board.contains_95(Length::from_m(2.0020)));
        assert!(Uncertain::new(Length::from_m(0.0), Length::from_m(1.0)).relative().is_none());
    }
}
