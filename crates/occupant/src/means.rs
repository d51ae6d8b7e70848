//! Means of a record over a gliding window, by trapezoids.

/// The mean over each stretch of `width` steps, in the order of its first sample; empty for a record that is shorter.
pub(crate) fn means(samples: &[f64], width: usize) -> Vec<f64> {
    let mut sums = vec![0.0];
    for pair in samples.windows(2) {
        sums.push(sums[sums.len() - 1] + 0.5 * (pair[0] + pair[1]));
    }
    #[expect(clippy::cast_precision_loss, reason = "sample counts stay far below 2^53")]
    let steps = width as f64;
    (width..sums.len()).map(|end| (sums[end] - sums[end - width]) / steps).collect()
}
