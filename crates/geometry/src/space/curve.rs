//! A cubic spline on even knots: which four coefficients make a value, and with what weights (de Boor 1978, A Practical Guide to
//! Splines, uniform knots).

/// Even knots over a span of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Knots {
    pub(super) start_s: f64,
    pub(super) step_s: f64,
    pub(super) n_spans: usize,
}

/// Four coefficients from `first` on, with the weights of the value and of its rate (1/s).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Weights {
    pub(super) first: usize,
    pub(super) value: [f64; 4],
    pub(super) rate: [f64; 4],
}

impl Knots {
    /// Knots about `step_s` apart from `start_s` to `end_s`.
    pub(super) fn over(start_s: f64, end_s: f64, step_s: f64) -> Self {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a handful to thousands")]
        let n_spans = (((end_s - start_s) / step_s).ceil() as usize).max(1);
        Self { start_s, step_s, n_spans }
    }

    pub(super) fn n_coefficients(&self) -> usize {
        self.n_spans + 3
    }

    /// The weights at an instant; outside the knots the end span's polynomial goes on.
    pub(super) fn weights(&self, time_s: f64) -> Weights {
        let along = (time_s - self.start_s) / self.step_s;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the spans")]
        let first = along.floor().clamp(0.0, (self.n_spans - 1) as f64) as usize;
        let u = along - first as f64;
        let v = 1.0 - u;
        let value = [
            v * v * v / 6.0,
            (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0,
            (3.0 * v * v * v - 6.0 * v * v + 4.0) / 6.0,
            u * u * u / 6.0,
        ];
        let rate = [-v * v / 2.0, (3.0 * u * u - 4.0 * u) / 2.0, (4.0 * v - 3.0 * v * v) / 2.0, u * u / 2.0];
        Weights { first, value, rate: rate.map(|rate| rate / self.step_s) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cubic_is_met_with_its_rate() {
        let knots = Knots { start_s: 0.5, step_s: 0.25, n_spans: 6 };
        // Coefficients of x³ on even knots: (k³ - k) steps³ about each knot.
        let coefficient = |i: usize| {
            let k = i as f64 - 1.0;
            (k * k * k - k) * knots.step_s.powi(3)
        };
        for time_s in [0.5, 0.61, 1.3, 2.0, 2.1] {
            let weights = knots.weights(time_s);
            let sum = |by: [f64; 4]| (0..4).map(|k| by[k] * coefficient(weights.first + k)).sum::<f64>();
            let x = time_s - 0.5;
            assert!((sum(weights.value) - x * x * x).abs() < 1e-12, "{time_s}");
            assert!((sum(weights.rate) - 3.0 * x * x).abs() < 1e-12, "{time_s}");
        }
    }
}
