//! How strongly a curve is driven across a gap. The marks beside it were smooth while they were seen; what happened in
//! between is told by how well the two sides fit together, and the curve is driven no less than beside the gap.

use super::chain::{Bend, Chain};
use crate::spline::likelihood_alone;

/// Frames without a mark from which a gap is judged: a shorter one leaves the motion no room for anything of its own.
const LONG: usize = 8;
/// Frames on either side that are fitted together across it.
const BESIDE: usize = 60;
/// Greatest strength tried, decades above that beside the gap.
const MOST: i32 = 12;

/// Raises the driving noise on the way through every long gap to what its two sides make likely: the mean of the strengths'
/// logarithms, each weighed by the marginal likelihood of the marks beside the gap.
pub(super) fn across(chain: &Chain, bends: &[Bend], drives: &mut [f64], noise_scale: f64) {
    let marks: Vec<usize> = (0..chain.frames.len()).filter(|&i| chain.frames[i].sample.is_some()).collect();
    for pair in marks.windows(2).filter(|pair| pair[1] - pair[0] > LONG) {
        let (way, window) =
            (pair[0] + 1..pair[1] + 1, pair[0].saturating_sub(BESIDE)..(pair[1] + BESIDE).min(drives.len()));
        let usual = drives[way.clone()].iter().copied().fold(0.0, f64::max);
        let mut tried = drives.to_vec();
        let likely = (0..=MOST).filter_map(|decades| {
            let drive = usual * 10.0_f64.powi(decades);
            tried[way.clone()].fill(drive);
            let nodes = chain.laid(window.clone(), bends, &tried).nodes;
            Some((drive, likelihood_alone(chain.degree, &nodes)?.log(noise_scale)))
        });
        let likely: Vec<(f64, f64)> = likely.collect();
        let most = likely.iter().map(|(_, log)| *log).fold(f64::NEG_INFINITY, f64::max);
        let (mut sum, mut weight) = (0.0, 0.0);
        for (drive, log) in likely.iter().filter(|(drive, _)| *drive > 0.0) {
            let likelihood = (log - most).exp();
            sum += likelihood * drive.ln();
            weight += likelihood;
        }
        if weight > 0.0 {
            drives[way].fill((sum / weight).exp());
        }
    }
}
