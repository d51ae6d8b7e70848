//! Marks of hidden targets: the body's pose from the targets that are seen, and the hidden one's place on the body as the
//! frames before and after the gap show it.

use super::layout::{Layout, measured};
use super::offset::{Local, Offset, offset};
use super::pose::sum;
use crate::follow::options::FollowOptions;
use crate::follow::record::Record;
use crate::follow::{Mark, Outcome};
use crate::locate::greatest_u;
use filmgauge_quantities::{GapCause, MarkState};
use rayon::prelude::*;

/// Neighbours are sought this many times as far as there should be of them: others may be hidden too.
const SOUGHT: usize = 4;

/// Trust of an inferred mark of no doubt.
const MOST_TRUST: f64 = 0.5;

/// Target, place in the record and mark of everything that can be inferred.
pub(super) fn inferred(
    layout: &Layout,
    record: &Record,
    options: &FollowOptions,
) -> Vec<(usize, usize, Mark)> {
    let jobs: Vec<(usize, usize)> = (0..layout.members.len())
        .flat_map(|n| gaps(record, layout.members[n].0).into_iter().map(move |index| (n, index)))
        .collect();
    jobs.into_par_iter()
        .filter_map(|(n, index)| {
            Some((layout.members[n].0, index, Hidden { layout, record, options, n, index }.mark()?))
        })
        .collect()
}

/// Frames without a mark after the target's first one.
fn gaps(record: &Record, k: usize) -> Vec<usize> {
    let outcomes = &record.outcomes[k];
    let first = outcomes.iter().position(|outcome| outcome.mark().is_some()).unwrap_or(outcomes.len());
    (first..outcomes.len()).filter(|&index| outcomes[index].mark().is_none()).collect()
}

struct Hidden<'a> {
    layout: &'a Layout,
    record: &'a Record,
    options: &'a FollowOptions,
    /// Member.
    n: usize,
    index: usize,
}

impl Hidden<'_> {
    fn mark(&self) -> Option<Mark> {
        let (k, place) = self.layout.members[self.n];
        let Outcome::Gap { cause, why } = &self.record.outcomes[k][self.index] else { return None };
        if *cause == GapCause::BeforeStart {
            return None;
        }
        let mask = self.layout.others(self.record, self.index, k);
        let pose = self.layout.pose(self.record, self.index, mask)?;
        let frame = f64::from(self.record.frames[self.index].0);
        let before = self.neighbours((0..self.index).rev(), mask);
        let after = self.neighbours(self.index + 1..self.record.frames.len(), mask);
        let local = Local::between(&before, &after, frame)?;
        let (centre, pose_cov) = pose.map(local.place(place));
        let cov = sum(&pose_cov, &pose.turn_cov(&local.cov()));
        let u_px = greatest_u(&cov);
        if u_px > self.options.greatest_inferred_u_px || !self.record.holds(centre) {
            return None;
        }
        let trust = MOST_TRUST * (1.0 - 0.8 * u_px / self.options.greatest_inferred_u_px);
        let n_seen = mask.count_ones();
        let reason = format!("{}: {why}; placed by {n_seen} other targets of its body", cause.word());
        Some(Mark { centre, cov, state: MarkState::Inferred, trust, reason, zncc: None, ways_apart_px: None })
    }

    /// The nearest frames in a direction of time in which the target and all of `mask` are seen.
    fn neighbours(&self, frames: impl Iterator<Item = usize>, mask: u64) -> Vec<Offset> {
        let most = self.options.layout_frames as usize;
        let k = self.layout.members[self.n].0;
        let seen = frames.skip_while(|&index| measured(self.record, k, index).is_none());
        seen.take(SOUGHT * most)
            .filter_map(|index| offset(self.layout, self.record, self.n, index, mask))
            .take(most)
            .collect()
    }
}
