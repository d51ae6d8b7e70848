//! The smoothing spline against an exact Gaussian posterior, solved densely in 60-digit arithmetic.

use crate::python::{ask, rows};
use anyhow::{Context, Result};
use filmgauge_motion::{FixedSmoothness, Sample, SmoothOptions, Smoothness, smooth};
use serde_json::json;

/// Between two frames, just before a mark.
const ONSET_S: f64 = -0.000_07;

/// Uneven times, gaps, unequal variances; the values need not be likely for the algebra to be checked.
fn curve() -> (Vec<f64>, Vec<Sample>) {
    let times_s: Vec<f64> =
        (0..48).map(|i| (f64::from(i) + 0.2 * (12.9 * f64::from(i)).sin()) * 1e-3 - 0.02).collect();
    let samples = times_s
        .iter()
        .zip(0..48)
        .map(|(&t, i)| {
            let sd_m = 1e-4 * (1.0 + 0.5 * (3.0 * f64::from(i)).cos());
            let travel_m = 14.4 * t - if t > 0.0 { 60.0 * t * t } else { 0.0 };
            (i % 9 != 4 && !(40..44).contains(&i))
                .then_some((travel_m + sd_m * (78.2 * f64::from(i)).sin(), sd_m * sd_m))
        })
        .collect();
    (times_s, samples)
}

/// Prior: three times integrated noise of strength q, driving the fourth derivative, on top of a cubic of which nothing
/// is known (Wahba 1978, J. R. Statist. Soc. B 40:364); an onset adds jumps of rate, second and third derivative.
/// The script builds that prior's covariance function and conditions it on the marks by universal kriging, without
/// any recursion. Computed from the stated formulas. Returned: greatest difference of the states, in their standard
/// uncertainties, and of the covariances, over the product of theirs.
fn differences(q: f64, onsets_s: Vec<f64>) -> Result<(f64, f64)> {
    // Without changes of its own a fixed smoothness takes each onset as a sharp kink: one model, no average.
    let smoothness = Smoothness::Fixed(FixedSmoothness { q: vec![q], changes: Vec::new() });
    let options = SmoothOptions { smoothness, onsets_s, ..SmoothOptions::default() };
    let (times_s, samples) = curve();
    let smoothed = smooth(&times_s, &samples, &options)?;
    let first_s = smoothed.times_s.first().copied().context("a smooth curve has frames")?;
    let asked_s: Vec<f64> = [0, 13, 19, 20, 31, 47]
        .into_iter()
        .filter_map(|i| smoothed.times_s.get(i).copied())
        .chain([first_s + 0.000_37, -0.000_21, 0.0224])
        .collect();
    let marks: Vec<[f64; 3]> = times_s
        .iter()
        .zip(&samples)
        .filter_map(|(&t, sample)| sample.map(|(value, variance)| [t, value, variance]))
        .collect();
    let jump = options.onset_jump;
    let question = json!({
        "marks": marks, "asked": asked_s, "onsets": options.onsets_s, "q": q,
        "jump_sd": [0.0, jump * options.onset_u_s, jump, jump / options.onset_rise_s],
    });
    let answer = ask("smoother.py", &question)?;
    let (states, covs) = (rows(&answer, "states")?, rows(&answer, "covariances")?);
    let (mut worst_state, mut worst_cov) = (0.0_f64, 0.0_f64);
    for (i, &t) in asked_s.iter().enumerate() {
        let (state, cov) = smoothed.at(t).with_context(|| format!("no curve at {t} s"))?;
        for a in 0..4 {
            let sd = covs[i][5 * a].sqrt();
            worst_state = worst_state.max((state[a] - states[i][a]).abs() / sd);
            for b in 0..4 {
                let sds = sd * covs[i][5 * b].sqrt();
                worst_cov = worst_cov.max((cov[a][b] - covs[i][4 * a + b]).abs() / sds);
            }
        }
    }
    Ok((worst_state, worst_cov))
}

#[test]
fn smooth_curves_agree_with_the_dense_posterior() -> Result<()> {
    let cases = [(1e6, vec![]), (1e9, vec![]), (1e12, vec![]), (1e7, vec![ONSET_S]), (1e10, vec![ONSET_S])];
    for (q, onsets_s) in cases {
        let n_onsets = onsets_s.len();
        let (state, cov) = differences(q, onsets_s)?;
        println!(
            "smoother, q {q:.0e}, {n_onsets} onsets: states within {state:.1e} sd, covariances {cov:.1e}"
        );
        assert!(state < 1e-6, "q {q:e}: states differ by {state} of their standard uncertainty");
        assert!(cov < 1e-6, "q {q:e}: covariances differ by {cov}, relative");
    }
    Ok(())
}
