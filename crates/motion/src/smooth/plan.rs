//! From frames to the smoothness of each, the changes of the motion and the ways in which each may have happened.

use crate::smooth::chain::{Chain, Laid};
use crate::smooth::changes;
use crate::smooth::choose::{self, Choice};
use crate::smooth::gaps;
use crate::smooth::options::{FixedChange, FixedSmoothness, SmoothOptions, Smoothness};
use crate::smooth::rises::{Change, Kick, NEAR, Setting, Way, candidates, kept};
use crate::spline::{Messages, messages};
use std::ops::Range;

/// All that the estimate of a curve rests on.
#[derive(Debug, Clone)]
pub(crate) struct Plan {
    /// Driving noise on the way to each frame.
    pub(crate) drives: Vec<f64>,
    pub(crate) changes: Vec<Change>,
    /// Scatter of the marks over that stated, as the choice of smoothness saw it.
    pub(crate) noise_scale: f64,
}

/// Chooses smoothness and changes; `None` where the marks do not determine a curve.
pub(crate) fn plan(chain: &Chain, options: &SmoothOptions) -> Option<Plan> {
    if let Smoothness::Fixed(fixed) = &options.smoothness {
        return Some(kept_plan(chain, options, fixed));
    }
    let noise_known = options.smoothness == Smoothness::KnownNoise;
    let choice = Choice { noise_known, cost: options.parameter_cost, window: options.window_marks };
    let mut plan =
        Plan { drives: vec![1.0; chain.frames.len()], changes: given(chain, options), noise_scale: 1.0 };
    choose_drives(chain, options, choice, &mut plan)?;
    if options.rises_s.is_empty() {
        return Some(plan);
    }
    add_shared(chain, options, &mut plan.changes);
    for k in 0..plan.changes.len() {
        settle(chain, options, &mut plan, k)?;
    }
    look_for_more(chain, options, &mut plan)?;
    choose_drives(chain, options, choice, &mut plan)?;
    for k in 0..plan.changes.len() {
        settle(chain, options, &mut plan, k)?;
        if !plan.changes[k].given {
            plan.changes[k].recentre();
            settle(chain, options, &mut plan, k)?;
        }
    }
    Some(plan)
}

/// The plan of an earlier curve, moved to the onsets as they are now.
fn kept_plan(chain: &Chain, options: &SmoothOptions, fixed: &FixedSmoothness) -> Plan {
    let strength =
        |i: usize| fixed.q.get(i).or(fixed.q.last()).map_or(1.0, |&q| chain.scale.drive_per_step(q));
    let drives = (0..chain.frames.len()).map(strength).collect();
    let mut onsets = given(chain, options);
    if fixed.changes.is_empty() {
        return Plan { drives, changes: onsets, noise_scale: 1.0 };
    }
    let change = |fixed: &FixedChange| {
        let span = |seconds: f64| chain.scale.span(seconds);
        let way = |&(shift_s, rise_s, weight): &(f64, f64, f64)| Way {
            shift: span(shift_s),
            rise: span(rise_s),
            weight,
        };
        let ways = fixed.ways.iter().map(way).collect();
        Change { at: chain.scale.steps(fixed.time_s), u: span(fixed.u_s), given: fixed.given, ways }
    };
    let mut changes: Vec<Change> = fixed.changes.iter().map(change).collect();
    let kept_onsets = changes.iter().filter(|change| change.given).count();
    if kept_onsets == onsets.len() {
        let moved = changes.iter_mut().filter(|change| change.given).zip(onsets.drain(..));
        moved.for_each(|(change, onset)| change.at = onset.at);
    }
    changes.sort_by(|a, b| a.at.total_cmp(&b.at));
    Plan { drives, changes, noise_scale: 1.0 }
}

/// Onsets inside the marks as changes; of several between two frames the first, as they cannot be told apart.
fn given(chain: &Chain, options: &SmoothOptions) -> Vec<Change> {
    let last = chain.frames[chain.frames.len() - 1].at;
    let mut steps: Vec<f64> = options.onsets_s.iter().map(|&at_s| chain.scale.steps(at_s)).collect();
    steps.retain(|at| (0.0..last).contains(at));
    steps.sort_by(f64::total_cmp);
    steps.dedup_by_key(|at| chain.frame_before(*at));
    let u = chain.scale.span(options.onset_u_s);
    steps.into_iter().map(|at| Change::sharp(at, u, true)).collect()
}

/// Adds the changes known from other curves, in their order, where none is known that near.
fn add_shared(chain: &Chain, options: &SmoothOptions, changes: &mut Vec<Change>) {
    let last = chain.frames[chain.frames.len() - 1].at;
    for &(at_s, u_s) in &options.shared_s {
        let (at, u) = (chain.scale.steps(at_s), chain.scale.span(u_s));
        let apart = changes.iter().all(|change| (change.at - at).abs() >= changes::APART);
        if apart && (0.0..last).contains(&at) {
            let k = changes.partition_point(|change| change.at < at);
            changes.insert(k, Change::sharp(at, u, false));
        }
    }
}

fn choose_drives(chain: &Chain, options: &SmoothOptions, choice: Choice, plan: &mut Plan) -> Option<()> {
    let kick = Kick::of(&chain.scale, options);
    let bends: Vec<_> = plan.changes.iter().map(|change| change.likeliest(&kick)).collect();
    let mut laid = chain.laid_whole(&bends, &plan.drives);
    // A found change may be none: only a given one parts the smoothness.
    let mut borders = vec![0];
    for change in plan.changes.iter().filter(|change| change.given) {
        let frame = chain.frame_before(change.likeliest(&kick).at);
        borders.push(laid.of_frame[frame] + 1);
    }
    borders.push(laid.nodes.len());
    borders.dedup();
    let stretches: Vec<Range<usize>> = borders.windows(2).map(|pair| pair[0]..pair[1]).collect();
    plan.noise_scale = choose::choose(chain.degree, &mut laid.nodes, &stretches, choice)?;
    plan.drives = laid.of_frame.iter().map(|&node| laid.nodes[node].drive).collect();
    gaps::across(chain, &bends, &mut plan.drives, plan.noise_scale);
    Some(())
}

/// Weighs the ways of one change, the others as they are; the logarithm of their joint likelihood is returned.
fn settle(chain: &Chain, options: &SmoothOptions, plan: &mut Plan, k: usize) -> Option<f64> {
    let setting = setting(chain, options, plan);
    let rises: Vec<f64> = options.rises_s.iter().map(|&rise_s| chain.scale.span(rise_s)).collect();
    let ways = candidates(&plan.changes[k], &rises);
    let whole = laid_with_messages(&setting, &plan.changes)?;
    let (likely, log) = kept(&setting.weights(&plan.changes, k, (&whole.0, &whole.1), &ways));
    if !likely.is_empty() {
        plan.changes[k].ways =
            likely.into_iter().map(|(place, weight)| Way { weight, ..ways[place] }).collect();
    }
    Some(log)
}

/// Looks for changes that were not given.
fn look_for_more(chain: &Chain, options: &SmoothOptions, plan: &mut Plan) -> Option<()> {
    let known: Vec<usize> = plan.changes.iter().map(|change| chain.frame_before(change.at)).collect();
    let kick = Kick::of(&chain.scale, options);
    let rises: Vec<f64> = options.rises_s.iter().map(|&rise_s| chain.scale.span(rise_s)).collect();
    let setting = (chain, &kick, plan.noise_scale);
    for found in changes::found(setting, &rises, &known, options.most_changes) {
        let at = chain.frames[found.frame].at;
        let k = plan.changes.partition_point(|change| change.at < at);
        plan.changes.insert(k, Change::sharp(at, changes::FOUND_U, false));
        let (start, end) = (found.frame.saturating_sub(NEAR.0), found.frame + NEAR.1);
        plan.drives[start..found.frame].fill(found.drives.0);
        let end = end.min(plan.drives.len());
        plan.drives[found.frame..end].fill(found.drives.1);
    }
    for k in 0..plan.changes.len() {
        if !plan.changes[k].given {
            for _ in 0..2 {
                settle(chain, options, plan, k)?;
                plan.changes[k].recentre();
            }
            settle(chain, options, plan, k)?;
        }
    }
    Some(())
}

pub(crate) fn setting<'a>(chain: &'a Chain, options: &SmoothOptions, plan: &'a Plan) -> Setting<'a> {
    let kick = Kick::of(&chain.scale, options);
    Setting { chain, drives: &plan.drives, kick, noise_scale: plan.noise_scale }
}

/// The whole chain with all changes' likeliest bends.
pub(crate) fn laid_with_messages(setting: &Setting<'_>, changes: &[Change]) -> Option<(Laid, Messages)> {
    let laid = setting.chain.laid_whole(&setting.bends(changes), setting.drives);
    let messages = messages(setting.chain.degree, &laid.nodes)?;
    Some((laid, messages))
}
