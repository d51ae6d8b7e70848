//! What the record shows of itself: stretches at the end of its range, and stretches where it stands still.

use filmgauge_sensors::Channel;

/// Fewest equal samples at the extreme that count as cut off.
const FEWEST_CUT: usize = 3;
/// Fewest equal samples, and shortest time, that count as standing still.
const FEWEST_STILL: usize = 8;
const SHORTEST_STILL_S: f64 = 0.001;
/// Runs nearer than this are one, s: noise comes off the stop for a moment.
const JOINED_S: f64 = 0.003;
/// Most runs whose loss is fitted, the longest.
const MOST_RUNS: usize = 2;
/// Samples closer than this share of the record's range are equal.
const EQUAL_SHARE: f64 = 1e-9;
/// Where more runs than this are half as long, standing still is the record's habit: its steps are coarse.
const MOST_ALIKE: usize = 3;

/// Runs of equal samples: first and last time, half a step beyond the samples, s.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Marks {
    /// At the greatest reading, longest first.
    pub(crate) at_top_s: Vec<[f64; 2]>,
    /// At the least reading, longest first.
    pub(crate) at_bottom_s: Vec<[f64; 2]>,
    /// Elsewhere.
    pub(crate) still_s: Vec<[f64; 2]>,
    pub(crate) top: f64,
    pub(crate) bottom: f64,
}

struct Run {
    first: usize,
    n: usize,
    value: f64,
}

/// The runs of a record, between two instants.
pub(crate) fn marks(channel: &Channel, [from_s, to_s]: [f64; 2]) -> Marks {
    let (bottom, top) = channel
        .values
        .iter()
        .fold((f64::MAX, f64::MIN), |(low, high), &value| (low.min(value), high.max(value)));
    let tolerance = EQUAL_SHARE * (top - bottom);
    let equal = |a: f64, b: f64| (a - b).abs() <= tolerance;
    let within = |run: &Run| channel.time_s(run.first) < to_s && channel.time_s(run.first + run.n) > from_s;
    let runs: Vec<Run> = runs(&channel.values, tolerance).into_iter().filter(within).collect();
    let at = |level: f64| {
        let cut: Vec<[f64; 2]> = runs
            .iter()
            .filter(|run| equal(run.value, level) && run.n >= FEWEST_CUT)
            .map(|run| span_s(channel, run))
            .collect();
        longest(joined(cut))
    };
    let long = |run: &&Run| run.n >= FEWEST_STILL && run.n as f64 * channel.step_s >= SHORTEST_STILL_S;
    let inside = |run: &&Run| !equal(run.value, top) && !equal(run.value, bottom);
    let still: Vec<&Run> = runs.iter().filter(long).filter(inside).collect();
    let longest_n = still.iter().map(|run| run.n).max().unwrap_or_default();
    let habit = runs.iter().filter(|run| 2 * run.n > longest_n).count() > MOST_ALIKE;
    let still_s =
        if habit { Vec::new() } else { still.into_iter().map(|run| span_s(channel, run)).collect() };
    Marks { at_top_s: at(top), at_bottom_s: at(bottom), still_s: longest(joined(still_s)), top, bottom }
}

fn runs(values: &[f64], tolerance: f64) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (index, &value) in values.iter().enumerate() {
        match runs.last_mut() {
            Some(run) if (run.value - value).abs() <= tolerance => run.n += 1,
            _ => runs.push(Run { first: index, n: 1, value }),
        }
    }
    runs.retain(|run| run.n >= FEWEST_CUT);
    runs
}

fn span_s(channel: &Channel, run: &Run) -> [f64; 2] {
    let half_s = 0.5 * channel.step_s;
    [channel.time_s(run.first) - half_s, channel.time_s(run.first + run.n - 1) + half_s]
}

/// Neighbours in time as one.
fn joined(spans_s: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    let mut joined: Vec<[f64; 2]> = Vec::new();
    for span_s in spans_s {
        match joined.last_mut() {
            Some(before) if span_s[0] - before[1] < JOINED_S => before[1] = span_s[1],
            _ => joined.push(span_s),
        }
    }
    joined
}

fn longest(mut spans_s: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    spans_s.sort_by(|a, b| (b[1] - b[0]).total_cmp(&(a[1] - a[0])));
    spans_s.truncate(MOST_RUNS);
    spans_s
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::PathBuf;

    fn record(values: Vec<f64>) -> Channel {
        Channel {
            code: "a".into(),
            unit: "m/s2".into(),
            start_s: 0.0,
            step_s: 1e-4,
            values,
            file: PathBuf::new(),
            comments: Vec::new(),
            steps: Vec::new(),
        }
    }

    fn wave() -> Vec<f64> {
        (0..1000_i32).map(|i| 100.0 * (f64::from(i) / 50.0).sin() + f64::from(i % 7) * 0.01).collect()
    }

    #[test]
    fn a_cut_off_top_and_a_still_stretch_are_found_and_a_sound_record_has_none() {
        let sound = marks(&record(wave()), [0.0, 1.0]);
        assert!(sound.at_top_s.is_empty() && sound.at_bottom_s.is_empty() && sound.still_s.is_empty());
        let cut: Vec<f64> = wave().iter().map(|value| value.min(60.0)).collect();
        let found = marks(&record(cut), [0.0, 1.0]);
        assert!((1..=2).contains(&found.at_top_s.len()) && found.at_bottom_s.is_empty(), "{found:?}");
        let mut still = wave();
        still[300..340].fill(0.0);
        let found = marks(&record(still), [0.0, 1.0]);
        assert_eq!(found.still_s.len(), 1);
        assert!(
            (found.still_s[0][0] - 0.029_95).abs() < 1e-9 && (found.still_s[0][1] - 0.033_95).abs() < 1e-9
        );
    }

    #[test]
    fn coarse_steps_are_no_dropouts() {
        let coarse: Vec<f64> = wave().iter().map(|value| (value / 20.0).round() * 20.0).collect();
        assert!(marks(&record(coarse), [0.0, 1.0]).still_s.is_empty());
    }
}
