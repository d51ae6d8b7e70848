//! Dynamic time warping inside a band: which samples of two curves belong together.

/// Pairs of samples along the cheapest path, by squared differences, with steps to the next sample of either or of both.
///
/// `window` bounds how far the two may be apart. The path runs from both first to both last samples; of steps that cost the
/// same the one along both is taken. Cost: samples times window.
pub(super) fn warped(a: &[f64], b: &[f64], window: usize) -> Vec<(usize, usize)> {
    let n = a.len();
    let width = 2 * window + 1;
    // Row i holds j from i - window on.
    let mut cost = vec![f64::INFINITY; n * width];
    let place = |i: usize, j: usize| -> Option<usize> {
        let k = (j + window).checked_sub(i)?;
        (k < width).then_some(i * width + k)
    };
    let before = |cost: &[f64], i: usize, j: usize| -> [f64; 3] {
        let at = |i: Option<usize>, j: Option<usize>| {
            i.zip(j).and_then(|(i, j)| place(i, j)).map_or(f64::INFINITY, |place| cost[place])
        };
        [at(i.checked_sub(1), j.checked_sub(1)), at(i.checked_sub(1), Some(j)), at(Some(i), j.checked_sub(1))]
    };
    for (i, of_a) in a.iter().enumerate() {
        let (first, last) = (i.saturating_sub(window), (i + window + 1).min(n));
        for (j, of_b) in b.iter().enumerate().take(last).skip(first) {
            let step = (of_a - of_b).powi(2);
            let least = before(&cost, i, j).into_iter().fold(f64::INFINITY, f64::min);
            if let Some(here) = place(i, j) {
                cost[here] = step + if i == 0 && j == 0 { 0.0 } else { least };
            }
        }
    }
    let (mut i, mut j) = (n - 1, n - 1);
    let mut path = vec![(i, j)];
    while i > 0 || j > 0 {
        let [both, of_a, of_b] = before(&cost, i, j);
        if both <= of_a && both <= of_b {
            (i, j) = (i - 1, j - 1);
        } else if of_a <= of_b {
            i -= 1;
        } else {
            j -= 1;
        }
        path.push((i, j));
    }
    path.reverse();
    path
}
