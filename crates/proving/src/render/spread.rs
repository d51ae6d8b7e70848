//! The point spread: a Gaussian and the pixel's own area, as weights of sub-pixels.

/// Standard deviations covered on each side.
const REACH_SD: f64 = 5.0;
/// Steps of the midpoint rule inside one sub-pixel.
const STEPS: i32 = 32;

/// Weights of sub-pixels about a pixel's centre along one axis; they add up to 1.
#[derive(Debug, Clone)]
pub(super) struct Spread {
    /// Pixels on each side that a pixel reaches to.
    pub reach_px: usize,
    /// Sub-pixels per pixel.
    pub subpixels: usize,
    weights: Vec<f32>,
}

impl Spread {
    pub(super) fn new(spread_px: f64, subpixels: usize) -> Self {
        let reach_px = whole((REACH_SD * spread_px + 0.5).ceil());
        let n = (2 * reach_px + 1) * subpixels;
        let width = 1.0 / f64::from(u32::try_from(subpixels).unwrap_or(1));
        let middle = 0.5 * (f64::from(u32::try_from(n).unwrap_or(1)) - 1.0);
        let raw: Vec<f64> = (0..n)
            .map(|i| {
                let centre = (f64::from(u32::try_from(i).unwrap_or(0)) - middle) * width;
                (0..STEPS)
                    .map(|k| {
                        blurred_pixel(
                            centre + width * ((f64::from(k) + 0.5) / f64::from(STEPS) - 0.5),
                            spread_px,
                        )
                    })
                    .sum()
            })
            .collect();
        let sum: f64 = raw.iter().sum();
        #[expect(clippy::cast_possible_truncation, reason = "weights between 0 and 1")]
        let weights = raw.iter().map(|weight| (weight / sum) as f32).collect();
        Self { reach_px, subpixels, weights }
    }

    /// Pixels from sub-pixels along one axis: `from` holds `n_px + 2 reach` pixels of sub-pixels, `stride` apart.
    pub(super) fn gather(&self, from: &[f32], stride: usize, to: &mut [f32], to_stride: usize, n_px: usize) {
        for px in 0..n_px {
            let first = px * self.subpixels * stride;
            let sum: f32 = if stride == 1 {
                self.weights.iter().zip(&from[first..]).map(|(w, value)| w * value).sum()
            } else {
                self.weights
                    .iter()
                    .zip(from[first..].iter().step_by(stride))
                    .map(|(w, value)| w * value)
                    .sum()
            };
            to[px * to_stride] = sum;
        }
    }
}

/// The pixel's box convolved with the Gaussian, up to a factor.
fn blurred_pixel(x: f64, sd: f64) -> f64 {
    (0..STEPS)
        .map(|k| {
            let at = (x + (f64::from(k) + 0.5) / f64::from(STEPS) - 0.5) / sd;
            (-0.5 * at * at).exp()
        })
        .sum()
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "checked spreads reach below 30 px"
)]
fn whole(value: f64) -> usize {
    value as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_are_even_and_add_up_to_one() {
        for subpixels in 1..6 {
            let spread = Spread::new(0.65, subpixels);
            let n = spread.weights.len();
            assert_eq!(n, (2 * spread.reach_px + 1) * subpixels);
            assert!((spread.weights.iter().sum::<f32>() - 1.0).abs() < 1e-6);
            assert!((0..n).all(|i| (spread.weights[i] - spread.weights[n - 1 - i]).abs() < 1e-7));
        }
    }

    #[test]
    fn an_even_area_stays_even() {
        let spread = Spread::new(0.65, 3);
        let from = vec![0.25; (10 + 2 * spread.reach_px) * 3];
        let mut to = vec![0.0; 10];
        spread.gather(&from, 1, &mut to, 1, 10);
        assert!(to.iter().all(|value| (value - 0.25).abs() < 1e-6));
    }
}
