//! One frame's work: every target on its own, then every body over its targets, then those left over, then the lost.

use super::attempt::{Glance, Miss, Scene, Seen};
use super::body::{Sight, Verdict};
use super::known::first_sight;
use super::{Follower, Mark, Outcome, State, Target, TargetStart};
use filmgauge_quantities::{FrameNumber, GapCause, GreyView, PixelPoint};
use rayon::prelude::*;

/// A mark guided by its body may be this much further off for every frame of its gap, px.
const GUIDED_SLACK_PX: f64 = 0.05;

/// Targets that one thread takes at once: a target is some microseconds' work.
const AT_LEAST: usize = 4;

/// State of one target within the round.
pub(super) enum Tried {
    /// Seen and not contradicted so far.
    Seen(Box<Seen>),
    /// Placed by a person.
    Hand(Box<Mark>),
    /// Not seen; why.
    Missed(Miss),
    /// Hidden for long: left to its body first.
    Waiting,
    /// Nothing to look for: not started, or refused.
    Idle,
}

/// One frame of a follower.
pub(super) struct Round<'f, 'v> {
    pub(super) follower: &'f mut Follower,
    pub(super) frame: FrameNumber,
    pub(super) view: &'v GreyView<'v>,
    pub(super) is_flash: bool,
    pub(super) tried: Vec<Tried>,
    /// Where its own track puts each target.
    pub(super) predicted: Vec<Option<PixelPoint>>,
    /// Where its body puts each target.
    pub(super) expected: Vec<Option<PixelPoint>>,
}

impl<'f, 'v> Round<'f, 'v> {
    pub(super) fn new(
        follower: &'f mut Follower,
        frame: FrameNumber,
        view: &'v GreyView<'v>,
        is_flash: bool,
    ) -> Self {
        let n = follower.starts.len();
        let predicted = follower.targets.iter().map(|target| predicted(target, frame, follower)).collect();
        Self { follower, frame, view, is_flash, tried: Vec::new(), predicted, expected: vec![None; n] }
    }

    /// All passes in order; one outcome a start.
    pub(super) fn run(mut self) -> Vec<Outcome> {
        self.look_at_each();
        self.refuse_doubled_starts();
        for body in 0..self.follower.bodies.len() {
            self.ask_body(body);
        }
        self.look_at_waiting();
        self.search_for_lost();
        self.part_doubled_marks();
        self.drop_covered_marks();
        self.remember()
    }

    /// First pass: every target near its own prediction, or at its start.
    fn look_at_each(&mut self) {
        let is_waiting: Vec<bool> = (0..self.follower.starts.len()).map(|k| self.is_waiting(k)).collect();
        let Follower { starts, targets, options, hand, .. } = &mut *self.follower;
        let scene = Scene { view: self.view, is_flash: self.is_flash, options };
        let frame = self.frame;
        let jobs = targets.par_iter_mut().zip(&*starts).zip(is_waiting).enumerate().with_min_len(AT_LEAST);
        self.tried = jobs
            .map(|(k, ((target, start), is_waiting))| match (hand.at(k, frame), &target.state) {
                (Some(mark), _) => {
                    seed(scene, target, start, &mark);
                    Tried::Hand(Box::new(mark))
                }
                (None, State::Ahead) if start.start_frame == frame => begin(scene, target, start),
                (None, State::Followed(_)) if is_waiting => Tried::Waiting,
                (None, State::Followed(_)) => coast(scene, target, start, frame),
                (None, State::Ahead | State::Refused(_)) => Tried::Idle,
            })
            .collect();
    }

    /// Whether a target has been hidden for long and its body was seen in the last frame.
    fn is_waiting(&self, k: usize) -> bool {
        let follower = &*self.follower;
        let start = &follower.starts[k];
        !start.deforms
            && follower.targets[k].n_missed >= follower.options.coast_frames
            && follower.targets[k].provisional.seen.is_empty()
            && follower.bodies.iter().any(|body| body.is_posed && Some(&body.id) == start.body.as_ref())
    }

    pub(super) fn centre(&self, k: usize) -> Option<PixelPoint> {
        match &self.tried[k] {
            Tried::Seen(seen) => Some(seen.centre),
            Tried::Hand(mark) => Some(mark.centre),
            _ => None,
        }
    }

    /// Second pass: a body rejects who contradicts it and guides who is missing.
    fn ask_body(&mut self, at: usize) {
        if self.is_speed_unknown(at) && self.search_for_body(at) {
            return;
        }
        let sights: Vec<Option<Sight>> =
            self.follower.bodies[at].members.iter().map(|member| self.sight(member.target)).collect();
        let Follower { bodies, options, .. } = &mut *self.follower;
        let verdict = bodies[at].judge(&sights, options);
        let id = bodies[at].id.clone();
        for &(member, distance) in &verdict.outliers {
            let target = self.follower.bodies[at].members[member].target;
            if matches!(self.tried[target], Tried::Seen(_)) {
                let why = format!("{distance:.1} px from where the rest of {id} puts it");
                self.tried[target] = Tried::Missed(Miss::new(GapCause::Rejected, why));
            }
        }
        self.take_pose(at, &verdict);
    }

    /// Confirms who agrees, guides who is missing, and lets the body learn.
    pub(super) fn take_pose(&mut self, at: usize, verdict: &Verdict) {
        if verdict.is_firm {
            for &member in &verdict.agreeing {
                let target = self.follower.bodies[at].members[member].target;
                if let Tried::Seen(seen) = &mut self.tried[target] {
                    seen.is_provisional = false;
                }
            }
        }
        if let Some(pose) = verdict.pose {
            let body = &self.follower.bodies[at];
            let places: Vec<(usize, Option<PixelPoint>)> =
                body.members.iter().enumerate().map(|(k, m)| (m.target, body.expected(k, &pose))).collect();
            for &(target, place) in &places {
                self.expected[target] = place;
            }
            self.guide(&places, pose.angle_rad(), verdict.is_firm);
        }
        let members = &self.follower.bodies[at].members;
        let centres: Vec<_> = members.iter().map(|member| self.centre(member.target)).collect();
        self.follower.bodies[at].learn(verdict.pose, &centres);
    }

    pub(super) fn sight(&self, k: usize) -> Option<Sight> {
        match &self.tried[k] {
            Tried::Seen(seen) => Some(Sight {
                centre: seen.centre,
                jump_sigmas: seen.jump_sigmas,
                is_firm: !seen.is_provisional,
            }),
            Tried::Hand(mark) => Some(Sight { centre: mark.centre, jump_sigmas: 0.0, is_firm: true }),
            _ => None,
        }
    }

    /// Looks for the missing ones where the body puts them.
    fn guide(&mut self, places: &[(usize, Option<PixelPoint>)], angle_rad: f64, is_firm: bool) {
        let missing: Vec<(usize, PixelPoint)> = places
            .iter()
            .filter(|(k, _)| matches!(self.tried[*k], Tried::Missed(_) | Tried::Waiting))
            .filter_map(|&(k, place)| Some((k, place?)))
            .collect();
        for &(k, _) in &missing {
            if let State::Followed(known) = &mut self.follower.targets[k].state {
                known.turn_to(angle_rad);
            }
        }
        let follower = &*self.follower;
        let scene = Scene { view: self.view, is_flash: self.is_flash, options: &follower.options };
        let found: Vec<(usize, Tried)> = missing
            .par_iter()
            .map(|&(k, place)| (k, guided(scene, &follower.targets[k], &follower.starts[k], place)))
            .collect();
        for (k, mut tried) in found {
            if let Tried::Seen(seen) = &mut tried {
                seen.is_provisional = !is_firm;
            }
            self.tried[k] = tried;
        }
    }

    /// Third pass: those whose body was not seen after all look for themselves.
    fn look_at_waiting(&mut self) {
        let follower = &*self.follower;
        let scene = Scene { view: self.view, is_flash: self.is_flash, options: &follower.options };
        let frame = self.frame;
        self.tried.par_iter_mut().enumerate().for_each(|(k, tried)| {
            if matches!(tried, Tried::Waiting) {
                *tried = coast(scene, &follower.targets[k], &follower.starts[k], frame);
            }
        });
    }
}

/// The target at its start.
fn begin(scene: Scene, target: &mut Target, start: &TargetStart) -> Tried {
    match first_sight(scene, start.kind, start.start, start.reach_px()) {
        Ok((known, seen)) => {
            target.state = State::Followed(Box::new(known));
            Tried::Seen(Box::new(seen))
        }
        Err(refused) => {
            target.state = State::Refused(refused.words(start.start_frame));
            Tried::Idle
        }
    }
}

/// A mark by hand gives a target that was never seen its first picture.
fn seed(scene: Scene, target: &mut Target, start: &TargetStart, mark: &Mark) {
    if !matches!(target.state, State::Followed(_))
        && let Ok((known, _)) = first_sight(scene, start.kind, mark.centre, start.reach_px())
    {
        target.state = State::Followed(Box::new(known));
    }
}

/// Where its own way puts a target.
fn predicted(target: &Target, frame: FrameNumber, follower: &Follower) -> Option<PixelPoint> {
    let acceleration_px = follower.options.acceleration_px;
    let again = target.provisional.predict(&target.track, frame, acceleration_px);
    again.or_else(|| target.track.predict(frame, acceleration_px)).map(|prediction| prediction.place)
}

/// The target near where its own track puts it.
fn coast(scene: Scene, target: &Target, start: &TargetStart, frame: FrameNumber) -> Tried {
    let options = scene.options;
    let again = target.provisional.predict(&target.track, frame, options.acceleration_px);
    let is_provisional = again.is_some();
    let own = || target.track.predict(frame, options.acceleration_px);
    let (State::Followed(known), Some(prediction)) = (&target.state, again.or_else(own)) else {
        return Tried::Idle;
    };
    let wide = match prediction.u_px {
        Some(u_px) => options.least_gate_px.max(2.0 + 3.0 * u_px),
        None => options.first_gate_px * prediction.n_frames,
    };
    let gate_px = wide.min(options.greatest_gate_px);
    let glance = Glance { scene, known, radius_px: start.reach_px() };
    match glance.attempt(prediction.place, gate_px) {
        Ok(mut seen) => {
            let off = seen.centre.distance(prediction.place);
            seen.jump_sigmas =
                prediction.u_px.map_or(0.0, |u_px| off / u_px.hypot(seen.cov.xx.max(seen.cov.yy).sqrt()));
            if seen.jump_sigmas > options.greatest_jump_sigmas {
                let why = format!("{off:.1} px from where it was expected");
                return Tried::Missed(Miss::new(GapCause::Rejected, why));
            }
            seen.is_provisional = is_provisional;
            Tried::Seen(Box::new(seen))
        }
        Err(miss) => Tried::Missed(miss),
    }
}

/// The target where its body puts it.
fn guided(scene: Scene, target: &Target, start: &TargetStart, place: PixelPoint) -> Tried {
    let State::Followed(known) = &target.state else { return Tried::Idle };
    let options = scene.options;
    let slack = GUIDED_SLACK_PX * f64::from(target.n_missed) * if start.deforms { 10.0 } else { 1.0 };
    let tolerance = (options.body_tolerance_px + slack).min(options.greatest_gate_px);
    let glance = Glance { scene, known, radius_px: start.reach_px() };
    match glance.attempt(place, tolerance.max(2.0)) {
        Ok(mut seen) => {
            let off = seen.centre.distance(place);
            if off > tolerance {
                let why = format!("{off:.1} px from where its body puts it");
                return Tried::Missed(Miss::new(GapCause::Rejected, why));
            }
            seen.is_guided = true;
            Tried::Seen(Box::new(seen))
        }
        Err(miss) => Tried::Missed(miss),
    }
}
