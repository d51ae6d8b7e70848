//! An axis: a span of values laid along a length of paper, with ticks at round values.

use crate::display::typeset;
use crate::rounding::at_place;

/// From low to high; always wider than zero and finite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Span {
    pub(crate) low: f64,
    pub(crate) high: f64,
}

impl Span {
    /// The span of `values`, widened about a single value; `None` without values or beyond what can be drawn.
    pub(crate) fn around(values: impl Iterator<Item = f64>) -> Option<Self> {
        let (low, high) = values
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
        if low > high || !(high - low).is_finite() {
            return None;
        }
        // A flat line still needs a height; a millionth of its value is where f64 ticks stay distinct.
        let least = (1e-6 * low.abs().max(high.abs())).max(1e-9);
        if high - low >= least {
            return Some(Self { low, high });
        }
        let room = (0.05 * high.abs()).max(0.5);
        Some(Self { low: low - room, high: high + room })
    }

    pub(crate) fn width(self) -> f64 {
        self.high - self.low
    }

    /// 0 at the low end, 1 at the high end.
    pub(crate) fn share(self, value: f64) -> f64 {
        (value - self.low) / self.width()
    }

    pub(crate) fn padded(self, share: f64) -> Self {
        let room = share * self.width();
        Self { low: self.low - room, high: self.high + room }
    }

    pub(crate) fn scaled(self, factor: f64) -> Self {
        Self { low: self.low * factor, high: self.high * factor }
    }
}

/// A tick: where, and its text.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Tick {
    pub(crate) at: f64,
    pub(crate) label: String,
    pub(crate) is_zero: bool,
}

/// A span laid between two places of the drawing.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Axis {
    span: Span,
    from: f64,
    to: f64,
    most_ticks: u8,
}

impl Axis {
    /// `span.low` lies at `from`, `span.high` at `to`; about `most_ticks` ticks at most.
    pub(crate) fn new(span: Span, from: f64, to: f64, most_ticks: u8) -> Self {
        Self { span, from, to, most_ticks }
    }

    /// Place of the low end.
    pub(crate) fn from(&self) -> f64 {
        self.from
    }

    /// Place of the high end.
    pub(crate) fn to(&self) -> f64 {
        self.to
    }

    /// Place of `value`.
    pub(crate) fn place(&self, value: f64) -> f64 {
        self.from + self.span.share(value) * (self.to - self.from)
    }

    /// Ticks at multiples of 1, 2 or 5 times a power of ten, from low to high.
    pub(crate) fn ticks(&self) -> Vec<Tick> {
        let (mantissa, exponent) = round_step(self.span.width() / f64::from(self.most_ticks));
        let step = mantissa * 10_f64.powi(exponent);
        let first = (self.span.low / step).ceil();
        (0..=self.most_ticks)
            .map(|n| (first + f64::from(n)) * step)
            .take_while(|value| *value <= self.span.high + 1e-9 * step)
            .map(|value| Tick {
                at: self.place(value),
                label: typeset(&at_place(value, exponent)),
                is_zero: value.abs() < 1e-9 * step,
            })
            .collect()
    }
}

/// The least of 1, 2, 5 times a power of ten that is not below `least`: mantissa and exponent.
pub(crate) fn round_step(least: f64) -> (f64, i32) {
    let text = format!("{least:e}");
    let exponent = text.split_once('e').and_then(|(_, exponent)| exponent.parse::<i32>().ok()).unwrap_or(0);
    let head = least / 10_f64.powi(exponent);
    match [1.0, 2.0, 5.0].into_iter().find(|mantissa| *mantissa >= head - 1e-9) {
        Some(mantissa) => (mantissa, exponent),
        None => (1.0, exponent + 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        let axis = Axis::new(Span { low: -70.3, high: 380.0 }, 0.0, 700.0, 10);
        let labels: Vec<String> = axis.ticks().into_iter().map(|tick| tick.label).collect();
        assert_eq!(labels, ["\u{2212}50", "0", "50", "100", "150", "200", "250", "300", "350"]);
        assert_eq!(axis.ticks().iter().filter(|tick| tick.is_zero).count(), 1);
        let small = Axis::new(Span { low: 0.0, high: 0.011 }, 0.0, 1.0, 5);
        assert_eq!(small.ticks().last().unwrap().label, "0.010");
    }

    #[test]
    fn flat_and_empty_spans() {
        assert_eq!(Span::around([].into_iter()), None);
        assert_eq!(Span::around([2.0].into_iter()), Some(Span { low: 1.5, high: 2.5 }));
        assert_eq!(Span::around([f64::MAX, f64::MIN].into_iter()), None);
    }

    #[test]
    fn steps() {
        assert_eq!(round_step(0.31), (5.0, -1));
        assert_eq!(round_step(7.0), (1.0, 1));
        assert_eq!(round_step(2.0), (2.0, 0));
    }
}
