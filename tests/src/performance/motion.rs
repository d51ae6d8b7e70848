//! Speed of smoothing a curve, smoothness chosen, for films of growing length, beside scipy's smoothing spline.

use crate::peer::ask;
use anyhow::{Context, Result};
use filmgauge_motion::{Sample, SmoothOptions, smooth};
use serde_json::json;
use std::fmt::Write;
use std::time::Instant;

const LENGTHS: [i32; 3] = [1_000, 10_000, 100_000];

/// The table for the page.
///
/// # Errors
/// When a curve cannot be smoothed or scipy does not answer.
pub fn table() -> Result<String> {
    let mut text = String::from(
        "## Smoothing a curve\n\n\
         One curve with its smoothness and its changes chosen, one thread, one run. The peer is scipy's make_smoothing_spline of \
         degree 3, which gives no bands.\n\n\
         | frames | seconds | µs per frame | scipy, s |\n| --- | --- | --- | --- |\n",
    );
    for n in LENGTHS {
        let times: Vec<f64> = (0..n).map(|i| f64::from(i) * 1e-3).collect();
        // A sum of sines whose periods share no multiple stands for noise: the same on every machine.
        let value =
            |t: f64| 14.4 * t + 0.05 * (9.0 * t).sin() + 1e-4 * ((1e5 * t * t).sin() + (7919.0 * t).sin());
        let values: Vec<f64> = times.iter().map(|&t| value(t)).collect();
        let samples: Vec<Sample> = values.iter().map(|&x| Some((x, 1e-8))).collect();
        let start = Instant::now();
        smooth(&times, &samples, &SmoothOptions::default())?;
        let seconds = start.elapsed().as_secs_f64();
        let answer = ask("motion.py", &json!({ "what": "speed", "times": times, "values": values }))?;
        let peer = answer["seconds"].as_f64().context("scipy gave no time")?;
        let _ = writeln!(text, "| {n} | {seconds:.2} | {:.0} | {peer:.2} |", 1e6 * seconds / f64::from(n));
    }
    Ok(text)
}
