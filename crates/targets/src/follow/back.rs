//! The look back after a gap: from the stretch of marks that follows it the target is followed against time through the
//! cuts that were kept. What it finds fills the gap; where it meets the marks before the gap the two ways must agree.

use super::apart::SAME_SPOT_SHARE;
use super::attempt::{Glance, Scene, Seen};
use super::known::Known;
use super::recent::{Cut, Recent};
use super::track::Track;
use super::{Follower, Outcome, State, trust};
use filmgauge_quantities::{FrameNumber, MarkState, PixelPoint};

/// Marks after a gap that the way back starts from.
const STRETCH: u32 = 3;

/// Frames in a row in which the way back may miss the target.
const MOST_MISSES: u32 = 3;

/// Marks before the gap that the way back is compared with.
const MOST_COMPARED: u32 = 3;

/// What is left of the trust of marks about which the two ways disagree.
const DISAGREEMENT_TRUST: f64 = 0.4;

/// What is left of the trust of a mark that only the way back found.
const BACK_TRUST: f64 = 0.8;

/// Looks back over the last gap of target `k`, once the stretch after it is long enough, or nothing more will come.
pub(super) fn look_back(follower: &mut Follower, k: usize, at_end: bool) {
    let Some(first) = follower.targets[k].recent.found_again else { return };
    let stretch = stretch(follower, k, first);
    let enough = if at_end { 2 } else { STRETCH as usize };
    if stretch.len() < enough {
        // Lost again before it was sure: nothing to start from.
        if follower.targets[k].n_missed > 0 {
            follower.targets[k].recent.found_again = None;
        }
        return;
    }
    follower.targets[k].recent.found_again = None;
    let recent = std::mem::take(&mut follower.targets[k].recent);
    if let State::Followed(known) = &follower.targets[k].state {
        let mut known = known.clone();
        let found = way_back(follower, k, &mut known, &recent, &stretch);
        write_down(follower, k, &stretch, found);
    }
    follower.targets[k].recent = recent;
}

/// The marks from `first` on, oldest first.
fn stretch(follower: &Follower, k: usize, first: FrameNumber) -> Vec<(FrameNumber, PixelPoint)> {
    let record = &follower.record;
    let from = record.index_of(first).unwrap_or(record.frames.len());
    let marks = record.frames[from..].iter().zip(&record.outcomes[k][from..]);
    let measured = marks.map_while(|(frame, outcome)| Some((*frame, outcome.measured()?.centre)));
    measured.take(STRETCH as usize).collect()
}

/// Time turned round.
fn against_time(frame: FrameNumber) -> FrameNumber {
    FrameNumber(u32::MAX - frame.0)
}

/// What the way back finds, newest first.
fn way_back(
    follower: &Follower,
    k: usize,
    known: &mut Known,
    recent: &Recent,
    stretch: &[(FrameNumber, PixelPoint)],
) -> Vec<(FrameNumber, Seen)> {
    let (start, options) = (&follower.starts[k], &follower.options);
    let mut track = Track::default();
    for (frame, centre) in stretch.iter().rev() {
        let cov = follower.record.at(k, *frame).and_then(Outcome::mark).map(|mark| mark.cov);
        track.push(against_time(*frame), *centre, &cov.unwrap_or_default());
    }
    let (mut n_missed, mut n_compared) = (0, 0);
    let mut found = Vec::new();
    for cut in recent.cuts.iter().rev().skip_while(|cut| cut.frame >= stretch[0].0) {
        let Some(expected) = track.predict(against_time(cut.frame), options.acceleration_px) else { break };
        let gate_px =
            options.least_gate_px.max(2.0 + 3.0 * expected.u_px.unwrap_or(0.0)).min(options.greatest_gate_px);
        let seen = glance_at(cut, known, start.reach_px(), options, expected.place, gate_px);
        let seen = seen.filter(|seen| {
            let u_px = expected.u_px.unwrap_or(1.0).hypot(seen.cov.xx.max(seen.cov.yy).sqrt());
            seen.centre.distance(expected.place) <= options.greatest_jump_sigmas * u_px
        });
        let Some(seen) = seen else {
            n_missed += 1;
            if n_missed == MOST_MISSES {
                break;
            }
            continue;
        };
        n_missed = 0;
        track.push(against_time(cut.frame), seen.centre, &seen.cov);
        known.follow(&seen);
        found.push((cut.frame, seen));
        let is_marked = follower.record.at(k, cut.frame).is_some_and(|outcome| outcome.measured().is_some());
        n_compared += u32::from(is_marked);
        if n_compared == MOST_COMPARED {
            break;
        }
    }
    found
}

fn glance_at(
    cut: &Cut,
    known: &Known,
    radius_px: f64,
    options: &super::FollowOptions,
    place: PixelPoint,
    gate_px: f64,
) -> Option<Seen> {
    let view = cut.picture.view();
    let scene = Scene { view: &view, is_flash: cut.is_flash, options };
    let seen = Glance { scene, known, radius_px }.attempt(place.moved(-cut.at.0, -cut.at.1), gate_px).ok()?;
    Some(Seen { centre: seen.centre.moved(cut.at.0, cut.at.1), ..seen })
}

/// Fills the gap with what the way back found, and lowers trust where the two ways disagree.
fn write_down(
    follower: &mut Follower,
    k: usize,
    stretch: &[(FrameNumber, PixelPoint)],
    found: Vec<(FrameNumber, Seen)>,
) {
    for (frame, mut seen) in found {
        let forward = follower.record.at(k, frame).cloned();
        match forward {
            Some(Outcome::Mark(mark)) if mark.state != MarkState::Inferred => {
                let apart_px = mark.centre.distance(seen.centre);
                follower.record.compare(k, frame, apart_px);
                if apart_px > follower.options.pass_tolerance_px {
                    let why =
                        format!("the way back from frame {} disagrees by {apart_px:.1} px", stretch[0].0);
                    follower.record.doubt(k, frame, DISAGREEMENT_TRUST, &why);
                    for (after, _) in stretch {
                        let why = format!("the way back disagrees by {apart_px:.1} px in frame {frame}");
                        follower.record.doubt(k, *after, DISAGREEMENT_TRUST, &why);
                    }
                }
            }
            Some(_) if !is_taken(follower, k, frame, &seen) => {
                seen.doubts.push((BACK_TRUST, "found on the way back".to_owned()));
                let mark = trust::mark(&seen, &follower.options);
                follower.record.overwrite(k, frame, mark);
            }
            _ => {}
        }
    }
}

/// Whether another target has its mark on the same spot, or in front of it.
fn is_taken(follower: &Follower, k: usize, frame: FrameNumber, seen: &Seen) -> bool {
    (0..follower.starts.len()).any(|other| {
        let near = SAME_SPOT_SHARE * follower.starts[k].radius_px.min(follower.starts[other].radius_px);
        let mark = follower.record.at(other, frame).and_then(Outcome::mark);
        other != k
            && mark.is_some_and(|mark| {
                let apart_px = mark.centre.distance(seen.centre);
                let front_zncc = mark.zncc.unwrap_or(0.0);
                apart_px < near
                    || follower.starts[k].is_behind(&follower.starts[other], apart_px, seen.zncc, front_zncc)
            })
    })
}
