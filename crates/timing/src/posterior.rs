//! Mean and standard deviation of an instant whose log-likelihood is known, with an even prior over a stretch.

/// Points of each look at the stretch.
const N_POINTS: usize = 240;
/// What lies this far below the best log-likelihood does not count.
const DEPTH: f64 = 25.0;
/// Looks after which the stretch is taken as it is.
const MOST_LOOKS: usize = 12;

/// Mean and standard deviation over `from..to`; `None` when the likelihood is nowhere a number.
///
/// The stretch is narrowed until the likelihood fills it, so that a sharp peak is resolved like a wide plateau.
#[expect(clippy::cast_precision_loss, reason = "a few hundred points")]
pub(crate) fn instant(mut from: f64, mut to: f64, log_likelihood: impl Fn(f64) -> f64) -> Option<(f64, f64)> {
    for look in 0..MOST_LOOKS {
        let step = (to - from) / N_POINTS as f64;
        let at = |index: usize| from + (index as f64 + 0.5) * step;
        let heights: Vec<f64> = (0..N_POINTS).map(|index| log_likelihood(at(index))).collect();
        let best = heights.iter().copied().filter(|height| height.is_finite()).reduce(f64::max)?;
        let counts = |height: &f64| height.is_finite() && best - height < DEPTH;
        let first = heights.iter().position(counts)?;
        let last = heights.iter().rposition(counts)?;
        if last - first > N_POINTS / 3 || look + 1 == MOST_LOOKS {
            let weights =
                heights.iter().map(|height| if counts(height) { (height - best).exp() } else { 0.0 });
            return moments(weights.enumerate().map(|(index, weight)| (at(index), weight)), step);
        }
        (from, to) = (at(first) - 1.5 * step, at(last) + 1.5 * step);
    }
    None
}

/// Each point stands for a cell as wide as a step, whose own variance is step²/12.
fn moments(points: impl Iterator<Item = (f64, f64)>, step: f64) -> Option<(f64, f64)> {
    let (mut sum, mut mean, mut squares) = (0.0, 0.0, 0.0);
    for (value, weight) in points.filter(|&(_, weight)| weight > 0.0) {
        sum += weight;
        let change = value - mean;
        mean += change * weight / sum;
        squares += weight * change * (value - mean);
    }
    (sum > 0.0).then(|| (mean, (squares / sum + step * step / 12.0).sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn peaks_and_plateaus() {
        let sharp = |value: f64| -0.5 * ((value - 0.3) / 1e-5).powi(2);
        let (mean, sd) = instant(-1.0, 1.0, sharp).unwrap();
        assert!((mean - 0.3).abs() < 1e-8 && (sd - 1e-5).abs() < 1e-7, "{mean} {sd}");
        let (mean, sd) = instant(2.0, 3.0, |_| 0.0).unwrap();
        assert!((mean - 2.5).abs() < 1e-12 && (sd - 1.0 / 12.0_f64.sqrt()).abs() < 1e-9);
        assert!(instant(0.0, 1.0, |_| f64::NAN).is_none());
    }
}
