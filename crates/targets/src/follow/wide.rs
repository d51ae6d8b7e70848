//! Targets that are lost: sought in a reach that grows with every frame. A body's targets are chosen together, so that one
//! pose explains them; a target by itself must keep to a straight way for some frames before it is believed.

use super::attempt::{Glance, Miss, Scene, Seen};
use super::body::{SURE, Verdict};
use super::known::Template;
use super::round::{Round, Tried};
use super::{State, TargetStart};
use filmgauge_quantities::{GapCause, PixelPoint};
use rayon::prelude::*;

/// Most places looked at for one target.
const MOST_PLACES: usize = 6;

/// A target lost for more frames than this is sought in every fourth only.
const EAGER_FRAMES: u32 = 8;

/// Of several places alike the nearest is taken when all others are this many times as far.
const CLEARLY_NEARER: f64 = 3.0;

impl Round<'_, '_> {
    /// Bodies without a pose, then targets by themselves.
    pub(super) fn search_for_lost(&mut self) {
        if self.is_flash {
            return;
        }
        for at in 0..self.follower.bodies.len() {
            if !self.follower.bodies[at].is_posed {
                self.search_for_body(at);
            }
        }
        let lost: Vec<usize> = (0..self.tried.len()).filter(|&k| self.is_alone(k)).collect();
        let found: Vec<(usize, Vec<Seen>)> = lost.par_iter().map(|&k| (k, self.sightings(k))).collect();
        for (k, sightings) in found {
            if let Some(tried) = self.by_itself(k, sightings) {
                self.tried[k] = tried;
            }
        }
    }

    /// Whether no member of a body has a known speed yet.
    pub(super) fn is_speed_unknown(&self, at: usize) -> bool {
        let targets = &self.follower.targets;
        let members = self.follower.bodies[at].members.iter().filter(|member| !member.deforms);
        let mut n = 0;
        for member in members {
            let target = &targets[member.target];
            if !matches!(target.state, State::Followed(_)) || self.is_hand(member.target) {
                continue;
            }
            if target.track.has_speed() || target.n_missed > 0 || self.predicted[member.target].is_none() {
                return false;
            }
            n += 1;
        }
        n >= SURE && !self.is_flash
    }

    fn is_hand(&self, k: usize) -> bool {
        matches!(self.tried[k], Tried::Hand(_))
    }

    /// All members of a body together: the pose that most of them agree on, wherever they may be in reach.
    pub(super) fn search_for_body(&mut self, at: usize) -> bool {
        let members: Vec<(usize, bool)> =
            self.follower.bodies[at].members.iter().map(|member| (member.target, member.deforms)).collect();
        let is_due = members.iter().any(|&(k, deforms)| !deforms && self.is_due(k));
        if !is_due && !self.is_speed_unknown(at) {
            return false;
        }
        let sightings: Vec<Vec<Seen>> = members
            .par_iter()
            .map(|&(k, deforms)| if deforms { Vec::new() } else { self.all_sightings(k) })
            .collect();
        let places: Vec<Vec<PixelPoint>> =
            sightings.iter().map(|list| list.iter().map(|seen| seen.centre).collect()).collect();
        let expected: Vec<_> = members.iter().map(|&(k, _)| self.predicted[k]).collect();
        let body = &self.follower.bodies[at];
        let Some((pose, who)) = body.choose(&places, &expected, &self.follower.options) else { return false };
        let is_firm = who.len() >= SURE;
        for (member, (k, _)) in members.iter().enumerate() {
            if self.is_hand(*k) {
                continue;
            }
            match who.iter().find(|(agreeing, _)| *agreeing == member) {
                Some(&(_, n)) => {
                    let seen = sightings[member][n].clone();
                    self.tried[*k] = Tried::Seen(Box::new(Seen { is_provisional: !is_firm, ..seen }));
                }
                None if matches!(self.tried[*k], Tried::Seen(_)) => {
                    let why = "its body's targets agree on another place";
                    self.tried[*k] = Tried::Missed(Miss::new(GapCause::Rejected, why));
                }
                None => {}
            }
        }
        let agreeing = who.iter().map(|(member, _)| *member).collect();
        self.take_pose(at, &Verdict { pose: Some(pose), outliers: Vec::new(), agreeing, is_firm });
        true
    }

    /// What was found nearby, and everything alike in reach.
    fn all_sightings(&self, k: usize) -> Vec<Seen> {
        let mut list = match &self.tried[k] {
            Tried::Seen(seen) => vec![(**seen).clone()],
            Tried::Hand(mark) => return vec![Seen::at(mark.centre, mark.cov)],
            _ => Vec::new(),
        };
        for seen in self.sightings(k) {
            if list.iter().all(|other| !self.is_one(k, k, other.centre, seen.centre)) {
                list.push(seen);
            }
        }
        list
    }

    /// Whether a target is missed, has no body to guide it, and its turn has come.
    fn is_alone(&self, k: usize) -> bool {
        let bodies = &self.follower.bodies;
        let has_body = bodies.iter().any(|body| {
            body.is_posed && body.members.iter().any(|member| member.target == k && !member.deforms)
        });
        let is_missed = matches!(
            self.tried[k],
            Tried::Missed(Miss { cause: GapCause::Hidden | GapCause::Rejected | GapCause::Blurred, .. })
        );
        is_missed && self.expected[k].is_none() && !has_body && self.is_due(k)
    }

    fn is_due(&self, k: usize) -> bool {
        let target = &self.follower.targets[k];
        let n_missed = target.n_missed;
        matches!(target.state, State::Followed(_)) && (n_missed < EAGER_FRAMES || n_missed.is_multiple_of(4))
    }

    /// Everything like target `k` in reach that passes the tests and is no other target's mark.
    fn sightings(&self, k: usize) -> Vec<Seen> {
        let follower = &*self.follower;
        let (State::Followed(known), Some(near)) = (&follower.targets[k].state, self.predicted[k]) else {
            return Vec::new();
        };
        let options = &follower.options;
        let n_frames = f64::from(follower.targets[k].n_missed) + 1.0;
        let reach_px =
            (options.first_gate_px + options.reach_growth_px * n_frames).min(options.greatest_reach_px);
        let scene = Scene { view: self.view, is_flash: self.is_flash, options };
        let glance = Glance { scene, known, radius_px: follower.starts[k].reach_px() };
        let found: Vec<Seen> = match &known.template {
            Template::Painted(likeness) => likeness
                .places(self.view, near, reach_px, (options.least_zncc, MOST_PLACES))
                .iter()
                .filter_map(|peak| glance.settle(peak).ok())
                .collect(),
            Template::Patch { .. } => glance.attempt(near, reach_px).into_iter().collect(),
        };
        found.into_iter().filter(|seen| !self.is_taken(k, seen.centre)).collect()
    }

    /// Whether a sure sighting of a target of another body lies there.
    fn is_taken(&self, k: usize, place: PixelPoint) -> bool {
        let starts: &[TargetStart] = &self.follower.starts;
        (0..self.tried.len()).any(|j| {
            let is_kin = starts[j].body.is_some() && starts[j].body == starts[k].body;
            let is_sure = self.sight(j).is_some_and(|sight| sight.is_firm);
            j != k
                && !is_kin
                && is_sure
                && self.centre(j).is_some_and(|other| self.is_one(k, j, place, other))
        })
    }

    /// A lost target that has only itself: one place alike, or one that is clearly the nearest.
    fn by_itself(&self, k: usize, mut sightings: Vec<Seen>) -> Option<Tried> {
        let near = self.predicted[k]?;
        let centres: Vec<PixelPoint> =
            (0..self.tried.len()).filter(|&j| j != k).filter_map(|j| self.centre(j)).collect();
        sightings.retain(|seen| centres.iter().all(|other| !self.is_one(k, k, *other, seen.centre)));
        sightings.sort_by(|a, b| a.centre.distance(near).total_cmp(&b.centre.distance(near)));
        let best = sightings.first()?;
        let is_clear = sightings.get(1).is_none_or(|second| {
            second.centre.distance(near) > CLEARLY_NEARER * best.centre.distance(near).max(1.0)
        });
        if !is_clear {
            let why = format!("{} places alike in reach", sightings.len());
            return Some(Tried::Missed(Miss::new(GapCause::Rejected, why)));
        }
        Some(Tried::Seen(Box::new(Seen { is_provisional: true, ..best.clone() })))
    }
}
