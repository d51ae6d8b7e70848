//! Rehearsals of smoothing: errors, coverage of the bands near an event and throughout, peers on the same marks.

use super::truths::{G, Shape};
use crate::peer::ask;
use anyhow::Context;
use filmgauge_motion::{
    Degree, Sample, SimultaneousOptions, SmoothOptions, Smoothed, derivative_limit, simultaneous_band, smooth,
};
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use rayon::prelude::*;
use serde_json::json;

/// One line of the table.
pub(super) struct Case {
    pub(super) name: &'static str,
    pub(super) shape: Shape,
    pub(super) contact_s: f64,
    pub(super) rate: f64,
    pub(super) noise_m: f64,
    /// Whether contact is told, as 0 s with 0.3 ms of doubt.
    pub(super) told: bool,
    /// The event near which coverage is counted too, s.
    pub(super) event_s: f64,
    pub(super) degree: Degree,
}

/// What came out.
#[derive(Default)]
pub(super) struct Row {
    /// Root mean square error of the acceleration, g.
    pub(super) rms_g: f64,
    pub(super) inside: [f64; 3],
    pub(super) near: [f64; 3],
    /// Whole curves inside the band for whole curves.
    pub(super) whole: [f64; 3],
    /// Changes found that were not told, on the average.
    pub(super) found: f64,
    pub(super) limit_g: f64,
    pub(super) butterworth_g: f64,
    pub(super) cut_off_hz: f64,
    pub(super) spline_g: f64,
}

/// Frames at either end that are left out, as no method's ends are judged here.
const ENDS: usize = 5;
/// Rehearsals that the peers see.
const PEER_DRAWS: usize = 20;

pub(super) fn row(case: &Case, n: u64) -> anyhow::Result<Row> {
    let (from, to) = if case.shape == Shape::Pulse { (-50, 200) } else { (-70, 380) };
    let per_ms = case.rate / 1000.0;
    let times: Vec<f64> = (0..=((f64::from(to - from) * per_ms).round() as i32))
        .map(|i| f64::from(from) * 1e-3 + f64::from(i) / case.rate)
        .collect();
    let truth = case.shape.truth(&times, case.contact_s);
    let marks = |seed: u64| -> anyhow::Result<Vec<f64>> {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let noise = Normal::new(0.0, case.noise_m)?;
        Ok(truth.iter().map(|state| state[0] + noise.sample(&mut random)).collect())
    };
    let options = SmoothOptions {
        degree: case.degree,
        onsets_s: if case.told { vec![0.0] } else { Vec::new() },
        ..SmoothOptions::default()
    };
    let rows = (0..n)
        .into_par_iter()
        .map(|seed| {
            let samples: Vec<Sample> =
                marks(seed)?.into_iter().map(|x| Some((x, case.noise_m * case.noise_m))).collect();
            let curve = smooth(&times, &samples, &options)?;
            judged(case, &curve, &truth)
        })
        .collect::<anyhow::Result<Vec<Row>>>()?;
    let mut row = mean(&rows);
    let curves = (0..n.min(PEER_DRAWS as u64)).map(marks).collect::<anyhow::Result<Vec<_>>>()?;
    let acceleration: Vec<f64> = truth.iter().map(|state| state[2]).collect();
    let inner = [ENDS, times.len() - ENDS];
    let question = json!({
        "what": "error", "times": times, "acceleration": acceleration, "curves": curves, "inner": inner
    });
    let answer = ask("motion.py", &question)?;
    let figure = |name: &str| answer[name].as_f64().with_context(|| format!("scipy gave no {name}"));
    row.butterworth_g = figure("butterworth")? / G;
    row.cut_off_hz = figure("cut_off")?;
    row.spline_g = figure("spline")? / G;
    row.limit_g = derivative_limit(case.noise_m, 1.0 / case.rate, row.cut_off_hz, 2) / G;
    Ok(row)
}

/// One rehearsal.
fn judged(case: &Case, curve: &Smoothed, truth: &[[f64; 3]]) -> anyhow::Result<Row> {
    let mut row = Row::default();
    let frames = ENDS..truth.len() - ENDS;
    let near = |i: usize| (-0.0031..0.0151).contains(&(curve.times_s[i] - case.event_s));
    let n = frames.len() as f64;
    let n_near = frames.clone().filter(|&i| near(i)).count().max(1) as f64;
    #[expect(clippy::needless_range_loop, reason = "k is the order of the derivative in every list")]
    for k in 0..3 {
        let interval_s = (curve.times_s[frames.start], curve.times_s[frames.end - 1]);
        let asked =
            SimultaneousOptions { order: k, interval_s, draws: 500, ..SimultaneousOptions::default() };
        let factor = simultaneous_band(curve, &asked)?.factor;
        let mut whole = true;
        for i in frames.clone() {
            let error = (curve.states[i][k] - truth[i][k]).abs();
            let sd = curve.covs[i][k][k].sqrt();
            let inside = f64::from(u8::from(error <= filmgauge_quantities::COVERAGE_95 * sd));
            row.inside[k] += inside / n;
            if near(i) {
                row.near[k] += inside / n_near;
            }
            whole &= error <= factor * sd;
            if k == 2 {
                row.rms_g += error * error / (n * G * G);
            }
        }
        row.whole[k] = f64::from(u8::from(whole));
    }
    row.found = curve.changes.iter().filter(|change| !change.given).count() as f64;
    Ok(row)
}

fn mean(rows: &[Row]) -> Row {
    let n = rows.len() as f64;
    let mut sum = Row::default();
    for row in rows {
        sum.rms_g += row.rms_g / n;
        sum.found += row.found / n;
        for k in 0..3 {
            sum.inside[k] += row.inside[k] / n;
            sum.near[k] += row.near[k] / n;
            sum.whole[k] += row.whole[k] / n;
        }
    }
    sum.rms_g = sum.rms_g.sqrt();
    sum
}
