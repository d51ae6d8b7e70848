//! Marks that contradict the rest of their body: each is held against the pose of the others, in the layout as neighbouring
//! frames show it. The worst is named and left out, then the others are judged again.

use super::layout::{Layout, measured};
use super::offset::{Local, Offset, offset};
use crate::follow::Outcome;
use crate::follow::options::FollowOptions;
use crate::follow::record::Record;
use filmgauge_quantities::{GapCause, MarkState};
use rayon::prelude::*;

/// What is left of the trust of a mark that contradicts its body.
const CONTRADICTION_TRUST: f64 = 0.4;

/// Of three that disagree, one with no more than this trust is taken to be the wrong one.
const DOUBTED: f64 = 0.5;

/// A mark that contradicts its body.
#[derive(Debug, Clone)]
pub(super) struct Contradiction {
    target: usize,
    index: usize,
    apart_px: f64,
    /// Whether it is the one, or one of three of which none can be named.
    is_named: bool,
}

/// All of them, frame by frame.
pub(super) fn contradictions(
    layout: &Layout,
    record: &Record,
    options: &FollowOptions,
) -> Vec<Contradiction> {
    if layout.members.len() < 3 {
        return Vec::new();
    }
    let series: Vec<Vec<Option<(u64, Offset)>>> = (0..layout.members.len())
        .into_par_iter()
        .map(|n| {
            (0..record.frames.len())
                .map(|index| {
                    let mask = layout.others(record, index, layout.members[n].0);
                    Some((mask, offset(layout, record, n, index, mask)?))
                })
                .collect()
        })
        .collect();
    (0..record.frames.len())
        .into_par_iter()
        .map(|index| Frame { layout, record, options, index }.contradictions(&series))
        .collect::<Vec<_>>()
        .concat()
}

struct Frame<'a> {
    layout: &'a Layout,
    record: &'a Record,
    options: &'a FollowOptions,
    index: usize,
}

impl Frame<'_> {
    fn contradictions(&self, series: &[Vec<Option<(u64, Offset)>>]) -> Vec<Contradiction> {
        let mut wrong: Vec<Contradiction> = Vec::new();
        let mut left: Vec<usize> = (0..self.layout.members.len())
            .filter(|&n| measured(self.record, self.layout.members[n].0, self.index).is_some())
            .collect();
        while left.len() >= 3 {
            let all = left.iter().fold(0_u64, |mask, n| mask | 1 << n);
            let judged = left.iter().filter_map(|&n| {
                let (d2, apart_px) = self.distance(n, all & !(1 << n), series)?;
                let is_wrong = d2 > self.options.greatest_rigidity && apart_px > self.options.flexing_px;
                is_wrong.then_some((n, d2, apart_px))
            });
            let judged: Vec<_> = judged.collect();
            let Some(&(worst, _, apart_px)) = judged.iter().max_by(|a, b| a.1.total_cmp(&b.1)) else { break };
            if left.len() == 3 {
                wrong.extend(self.of_three(&judged));
                break;
            }
            let target = self.layout.members[worst].0;
            wrong.push(Contradiction { target, index: self.index, apart_px, is_named: true });
            left.retain(|&n| n != worst);
        }
        wrong
    }

    /// Two poses of three targets contradict each other, and no third says which: only an older doubt names one.
    fn of_three(&self, judged: &[(usize, f64, f64)]) -> Vec<Contradiction> {
        let trust = |n: usize| {
            let outcome = &self.record.outcomes[self.layout.members[n].0][self.index];
            outcome.mark().map_or(1.0, |mark| mark.trust)
        };
        let doubted: Vec<_> = judged.iter().filter(|(n, _, _)| trust(*n) <= DOUBTED).collect();
        let made = |(n, _, apart_px): &(usize, f64, f64), is_named| Contradiction {
            target: self.layout.members[*n].0,
            index: self.index,
            apart_px: *apart_px,
            is_named,
        };
        match doubted[..] {
            [one] => vec![made(one, true)],
            _ => judged.iter().map(|one| made(one, false)).collect(),
        }
    }

    /// Squared distance of a member from where the others put it, in standard uncertainties, and in px.
    fn distance(&self, n: usize, mask: u64, series: &[Vec<Option<(u64, Offset)>>]) -> Option<(f64, f64)> {
        let reach = self.options.layout_frames as usize;
        let window = self.index.saturating_sub(reach)..(self.index + reach + 1).min(self.record.frames.len());
        let at = |index: usize| match series[n][index] {
            Some((known, offset)) if known == mask => Some(offset),
            // Others are missing or left out there: the same pose must be had from the same members.
            Some((known, _)) if known & mask == mask => offset(self.layout, self.record, n, index, mask),
            _ => None,
        };
        let here = at(self.index)?;
        let refs: Vec<Offset> = window.filter(|&index| index != self.index).filter_map(at).collect();
        let local = Local::median(&refs)?;
        let (dx, dy) = (here.x - local.x, here.y - local.y);
        let cov = super::pose::sum(&here.cov, &local.cov());
        Some((cov.mahalanobis2(dx, dy)?, dx.hypot(dy)))
    }
}

/// Lowers the trust of a mark that contradicts its body; one far off becomes a gap. Marks by hand stay as they are but for
/// the reason.
pub(super) fn write_down(record: &mut Record, contradiction: &Contradiction, options: &FollowOptions) {
    let Contradiction { target, index, apart_px, is_named } = *contradiction;
    let outcome = &mut record.outcomes[target][index];
    let Outcome::Mark(mark) = outcome else { return };
    let why = if is_named {
        format!("{apart_px:.2} px from where its whole body puts it")
    } else {
        format!("its body's three targets disagree by {apart_px:.2} px, and none can be named")
    };
    if mark.state == MarkState::Hand {
        crate::follow::record::lower(mark, 1.0, &why);
    } else if is_named && apart_px > options.body_tolerance_px {
        *outcome = Outcome::Gap { cause: GapCause::Rejected, why };
    } else {
        crate::follow::record::lower(mark, CONTRADICTION_TRUST, &why);
    }
}
