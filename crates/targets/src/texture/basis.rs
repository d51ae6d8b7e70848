//! The B-splines: weights of value, slope and curvature, the prefilter's impulse response, and noise through both.
//!
//! Unser, Aldroubi & Eden 1993 (IEEE Trans. Signal Processing 41:821-848).

use super::columns::Points;
use super::options::Interpolation;
use super::place::TexturePlace;

/// Most taps along one axis.
pub(super) const MOST_TAPS: usize = 6;

/// Phases at which the noise gain is tabled.
const N_PHASES: usize = 64;

/// Poles of the prefilters (Unser et al. 1993, table of poles, n = 3 and 5).
const CUBIC_POLE: f64 = -0.267_949_192_431_122_7;
const QUINTIC_POLES: [f64; 2] = [-0.430_575_347_099_973_8, -0.043_096_288_203_264_65];

impl Interpolation {
    /// Coefficients that one value takes part of, along one axis.
    pub(super) fn n_taps(self) -> usize {
        match self {
            Self::Cubic => 4,
            Self::Quintic => 6,
        }
    }

    /// Coefficients to the left of a place's floor.
    pub(super) fn left(self) -> usize {
        self.n_taps() / 2 - 1
    }

    /// Samples to either side over which the prefilter's impulse response is carried: beyond, below 1e-4.
    pub(super) fn memory(self) -> usize {
        match self {
            Self::Cubic => 7,
            Self::Quintic => 13,
        }
    }

    /// Right half of the prefilter's impulse response, from 0 to [`Self::memory`]; its whole sum is 1.
    pub(super) fn response(self) -> Vec<f64> {
        let lags = 0..=i32::try_from(self.memory()).unwrap_or(0);
        let mut half: Vec<f64> = match self {
            Self::Cubic => lags.map(|k| CUBIC_POLE.powi(k)).collect(),
            Self::Quintic => {
                let [z1, z2] = QUINTIC_POLES;
                let (a, b) = (z1 / (1.0 - z1 * z1), -z2 / (1.0 - z2 * z2));
                lags.map(|k| a * z1.powi(k) + b * z2.powi(k)).collect()
            }
        };
        let sum = half[0] + 2.0 * half[1..].iter().sum::<f64>();
        half.iter_mut().for_each(|h| *h /= sum);
        half
    }

    /// Weight of a pixel in its own second derivative along one axis.
    pub(super) fn bend_at_pixel(self) -> f64 {
        let half = self.response();
        let weights = self.weights(0.0, 2);
        (0..self.n_taps()).map(|j| weights[j] * half[j.abs_diff(self.left())]).sum()
    }

    /// [`Self::response`] for the filter.
    #[expect(clippy::cast_possible_truncation, reason = "filter constants are meant in single precision")]
    pub(super) fn filter(self) -> Vec<f32> {
        self.response().iter().map(|&h| h as f32).collect()
    }

    /// Weights of the taps at `phase` (0 to 1) beyond the coefficient at the floor, for the derivative of `order` 0 to 2.
    pub(super) fn weights(self, phase: f64, order: usize) -> [f64; MOST_TAPS] {
        let mut weights = [0.0; MOST_TAPS];
        for (j, weight) in weights.iter_mut().enumerate().take(self.n_taps()) {
            let t = phase - (j as f64 - self.left() as f64);
            *weight = match self {
                Self::Cubic => truncated(t, order, 3, &[1.0, -4.0, 6.0, -4.0, 1.0], 6.0),
                Self::Quintic => truncated(t, order, 5, &[1.0, -6.0, 15.0, -20.0, 15.0, -6.0, 1.0], 120.0),
            };
        }
        weights
    }
}

/// A B-spline of `degree`, or its derivative, as a sum of truncated powers, read from its nearer end.
fn truncated(t: f64, order: usize, degree: i32, binomials: &[f64], factorial: f64) -> f64 {
    let half = f64::from(degree + 1) / 2.0;
    let mirror = if t > 0.0 && order % 2 == 1 { -1.0 } else { 1.0 };
    let from_end = half - t.abs();
    let falling = (0..order).fold(1.0, |product, k| product * (f64::from(degree) - k as f64));
    let power = degree - order as i32;
    let terms = binomials.iter().enumerate().map(|(k, binomial)| {
        let reach = from_end - k as f64;
        if reach > 0.0 { binomial * reach.powi(power) } else { 0.0 }
    });
    mirror * falling * terms.sum::<f64>() / factorial
}

/// How white noise of unit variance comes through prefilter and spline, along one axis.
#[derive(Debug, Clone)]
pub(super) struct NoiseTable {
    value: [f64; N_PHASES],
    /// Variance of the slope at a pixel.
    pub(super) slope_at_pixel: f64,
}

impl NoiseTable {
    pub(super) fn new(spline: Interpolation) -> Self {
        let half = spline.response();
        let at = |k: i64| half.get(usize::try_from(k.abs()).unwrap_or(usize::MAX)).copied().unwrap_or(0.0);
        let reach = spline.memory() as i64 + MOST_TAPS as i64;
        let lags: [f64; MOST_TAPS] =
            std::array::from_fn(|lag| (-reach..=reach).map(|k| at(k) * at(k + lag as i64)).sum());
        let through = |weights: [f64; MOST_TAPS]| {
            let pairs = (0..MOST_TAPS).flat_map(|j| (0..MOST_TAPS).map(move |k| (j, k)));
            pairs.map(|(j, k)| weights[j] * weights[k] * lags[j.abs_diff(k)]).sum::<f64>()
        };
        let value = std::array::from_fn(|i| through(spline.weights((i as f64 + 0.5) / N_PHASES as f64, 0)));
        Self { value, slope_at_pixel: through(spline.weights(0.0, 1)) }
    }

    /// Variance of the value at coordinate `x` (-16 or more; its fraction counts).
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a place in a picture times 64"
    )]
    pub(super) fn value(&self, x: f64) -> f64 {
        // Places may lie a little left of or above the picture.
        let phases = (x + 16.0).max(0.0) * N_PHASES as f64;
        self.value[phases as usize % N_PHASES]
    }

    /// Mean noise variance that interpolation leaves of a pixel's, over some of the points of a patch at `place`.
    pub(super) fn mean_value(&self, points: &Points, place: &TexturePlace) -> f64 {
        let (mut sum, mut n) = (0.0, 0.0);
        // A step without a common factor with most sides meets every column.
        for i in (0..points.u.len()).step_by(11) {
            let at = place.point(points.u[i], points.v[i]);
            sum += self.value(at.x) * self.value(at.y);
            n += 1.0;
        }
        sum / n
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_sum_to_one_and_derive_from_each_other() {
        for spline in [Interpolation::Cubic, Interpolation::Quintic] {
            for phase in [0.0, 0.2, 0.5, 0.9] {
                let value = spline.weights(phase, 0);
                assert!((value.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{value:?}");
                for order in [1, 2] {
                    let (low, high) =
                        (spline.weights(phase - 1e-6, order - 1), spline.weights(phase + 1e-6, order - 1));
                    let derived = spline.weights(phase, order);
                    for j in 0..MOST_TAPS {
                        let slope = (high[j] - low[j]) / 2e-6;
                        assert!((slope - derived[j]).abs() < 2e-6, "{spline:?} {phase} {order} {j}");
                    }
                }
            }
        }
    }

    #[test]
    fn the_prefilter_undoes_the_sampled_spline() {
        for spline in [Interpolation::Cubic, Interpolation::Quintic] {
            let half = spline.response();
            let at = |k: i64| half.get(k.unsigned_abs() as usize).copied().unwrap_or(0.0);
            let sampled = spline.weights(0.0, 0);
            for lag in 0..4_i64 {
                let sum: f64 =
                    (0..MOST_TAPS).map(|j| sampled[j] * at(lag - (j as i64 - spline.left() as i64))).sum();
                let wanted = if lag == 0 { 1.0 } else { 0.0 };
                assert!((sum - wanted).abs() < 1e-4, "{spline:?} {lag} {sum}");
            }
        }
    }

    #[test]
    fn noise_passes_whole_at_a_pixel_and_less_between() {
        for spline in [Interpolation::Cubic, Interpolation::Quintic] {
            let table = NoiseTable::new(spline);
            assert!(table.value(0.001) > 0.98 && table.value(7.5) < 0.9 && table.value(7.5) > 0.5);
            assert!(table.slope_at_pixel > 0.5 && table.slope_at_pixel < 3.3);
        }
    }
}
