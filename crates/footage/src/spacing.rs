//! What the steps between time stamps and between pictures show: a histogram, dropped frames, nearly repeated pictures.

use crate::FrameRecord;
use filmgauge_quantities::FrameNumber;
use serde::Serialize;
use std::collections::BTreeMap;

/// A picture counts as nearly repeated when it differs from the one before by less than this share of what is usual
/// around it. Frames of a camera differ at least by their noise; a picture coded twice does not.
const NEARLY_SHARE: f64 = 0.1;

/// Frames on either side that say what is usual.
const AROUND: usize = 5;

/// Steps between neighbouring time stamps.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StampSteps {
    /// Step, ticks → how often.
    pub histogram: BTreeMap<i64, u64>,
    /// The middle step, ticks; `None` without at least two stamps in order.
    pub usual: Option<i64>,
    /// Frames before which others are missing, each with how many: the step is a whole multiple of the usual one.
    pub dropped: Vec<(FrameNumber, u64)>,
}

impl StampSteps {
    /// Steps of a frame table. Stamps are rounded to ticks, so a multiple may be off by one tick for each step in it.
    #[must_use]
    pub fn of(frames: &[FrameRecord]) -> Self {
        let steps: Vec<(FrameNumber, i64)> = frames
            .windows(2)
            .filter_map(|pair| {
                Some((pair[1].number, pair[1].stamp?.ticks.checked_sub(pair[0].stamp?.ticks)?))
            })
            .collect();
        let mut histogram = BTreeMap::new();
        for (_, step) in &steps {
            *histogram.entry(*step).or_insert(0) += 1;
        }
        let usual = usual_step(&steps);
        let missing = |(number, step): &(FrameNumber, i64)| Some((*number, missing(*step, usual?)?));
        Self { dropped: steps.iter().filter_map(missing).collect(), histogram, usual }
    }

    /// How many frames are missing in all.
    #[must_use]
    pub fn n_dropped(&self) -> u64 {
        self.dropped.iter().map(|(_, n)| n).sum()
    }
}

/// The middle one of the steps in time that go forward, ticks.
pub(crate) fn usual_step(steps: &[(FrameNumber, i64)]) -> Option<i64> {
    let mut forward: Vec<i64> = steps.iter().map(|(_, step)| *step).filter(|step| *step > 0).collect();
    let middle = forward.len().checked_sub(1)? / 2;
    Some(*forward.select_nth_unstable(middle).1)
}

/// How many frames a step leaves out, when it is a whole multiple of the usual one.
fn missing(step: i64, usual: i64) -> Option<u64> {
    let times = step.checked_add(usual / 2)?.checked_div(usual)?;
    let off = step.abs_diff(times.checked_mul(usual)?);
    // A tick of rounding cannot be told from a fraction of a step where steps are a few ticks long.
    let is_whole = off <= times.unsigned_abs() && off.saturating_mul(4) < usual.unsigned_abs();
    u64::try_from(times - 1).ok().filter(|&n| n > 0 && is_whole)
}

/// Frames whose picture is nearly, but not exactly, the one before: a repeat that was coded anew.
#[must_use]
pub fn nearly_repeated(frames: &[FrameRecord]) -> Vec<FrameNumber> {
    let is_nearly = |at: usize| {
        let change = frames[at].change?;
        let around = at.saturating_sub(AROUND)..(at + AROUND + 1).min(frames.len());
        let mut others: Vec<f64> =
            around.filter(|other| *other != at).filter_map(|other| frames[other].change).collect();
        let middle = others.len().checked_sub(1)? / 2;
        let usual = *others.select_nth_unstable_by(middle, f64::total_cmp).1;
        let differs = at > 0 && frames[at].hash != frames[at - 1].hash;
        (differs && change < NEARLY_SHARE * usual).then_some(frames[at].number)
    };
    (0..frames.len()).filter_map(is_nearly).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_multiples_of_the_usual_step_are_missing_frames() {
        assert_eq!(missing(40, 40), None);
        assert_eq!(missing(81, 40), Some(1));
        assert_eq!(missing(160, 40), Some(3));
        assert_eq!(missing(60, 40), None);
        assert_eq!(missing(-40, 40), None);
        assert_eq!(missing(33, 33), None);
        assert_eq!(missing(67, 33), Some(1));
    }
}
