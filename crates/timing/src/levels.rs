//! Two level clusters of a lamp that is on or off, and robust spread.

/// Off and on level of a series and the noise about them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct TwoLevels {
    pub(crate) off: f64,
    pub(crate) on: f64,
    /// Standard deviation of a level about its cluster.
    pub(crate) noise: f64,
    /// Between the clusters.
    pub(crate) threshold: f64,
}

/// Median; `None` of nothing.
pub(crate) fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let upper = *sorted.get(sorted.len() / 2)?;
    Some(if sorted.len().is_multiple_of(2) { 0.5 * (sorted[sorted.len() / 2 - 1] + upper) } else { upper })
}

/// Standard deviation by the median absolute deviation from zero (factor 1.4826 for a normal distribution).
pub(crate) fn spread(deviations: &[f64]) -> f64 {
    let sizes: Vec<f64> = deviations.iter().map(|deviation| deviation.abs()).collect();
    median(&sizes).map_or(0.0, |middle| 1.4826 * middle)
}

/// Splits the levels where the sum of squares within two clusters is smallest (Otsu 1979, IEEE Trans. SMC 9:62),
/// then takes the median of each cluster's inner frames: those whose neighbours are in the same cluster.
pub(crate) fn two_levels(levels: &[f64]) -> Option<TwoLevels> {
    let threshold = best_split(levels)?;
    let inner = |is_on: bool| -> Vec<f64> {
        let same = |at: usize| (levels[at] > threshold) == is_on;
        let all = (0..levels.len()).filter(|&at| same(at));
        let has_like_neighbours =
            |&at: &usize| (at == 0 || same(at - 1)) && (at + 1 == levels.len() || same(at + 1));
        let core: Vec<f64> = all.clone().filter(has_like_neighbours).map(|at| levels[at]).collect();
        if core.is_empty() { all.map(|at| levels[at]).collect() } else { core }
    };
    let (off_frames, on_frames) = (inner(false), inner(true));
    let (off, on) = (median(&off_frames)?, median(&on_frames)?);
    let deviations: Vec<f64> =
        off_frames.iter().map(|level| level - off).chain(on_frames.iter().map(|level| level - on)).collect();
    Some(TwoLevels { off, on, noise: spread(&deviations), threshold: 0.5 * (off + on) })
}

#[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^53")]
fn best_split(levels: &[f64]) -> Option<f64> {
    let mut sorted = levels.to_vec();
    sorted.sort_by(f64::total_cmp);
    let centre = sorted.iter().sum::<f64>() / sorted.len().max(1) as f64;
    let total: f64 = sorted.iter().map(|level| level - centre).sum();
    let mut below = 0.0;
    let mut best: Option<(f64, f64)> = None;
    for n_below in 1..sorted.len() {
        below += sorted[n_below - 1] - centre;
        if sorted[n_below] <= sorted[n_below - 1] {
            continue;
        }
        let n_above = sorted.len() - n_below;
        let between = below * below / n_below as f64 + (total - below) * (total - below) / n_above as f64;
        if best.is_none_or(|(_, most)| between > most) {
            best = Some((0.5 * (sorted[n_below - 1] + sorted[n_below]), between));
        }
    }
    best.map(|(split, _)| split)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_clusters_without_their_transition_frames() {
        let levels = [10.0, 10.0, 11.0, 60.0, 100.0, 101.0, 100.0, 30.0, 10.0, 9.0];
        let found = two_levels(&levels).unwrap();
        assert!((found.off - 10.0).abs() < 1.0 && (found.on - 100.0).abs() < 1.0, "{found:?}");
        assert!(two_levels(&[5.0; 8]).is_none());
        assert!(two_levels(&[]).is_none());
    }
}
