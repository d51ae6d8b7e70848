//! One frame's work: every target on its own, then every body over its targets, then those left over.

use super::attempt::{Miss, Scene, Seen, attempt, first_sight};
use super::body::{Sight, Verdict};
use super::{Follower, Mark, Outcome, State, Target, TargetStart, before_start, trust};
use filmgauge_quantities::{FrameNumber, GapCause, GreyView, PixelPoint};
use rayon::prelude::*;

/// A quadrant's picture is turned anew when the target has turned this much further, rad.
const RETURN_RAD: f64 = 0.07;

/// Two marks nearer than this share of the smaller radius are the same spot.
const SAME_SPOT_SHARE: f64 = 0.5;

/// A mark guided by its body may be this much further off for every frame of its gap, px.
const GUIDED_SLACK_PX: f64 = 0.05;

/// State of one target within the round.
enum Tried {
    /// Seen and not contradicted so far.
    Seen(Box<Seen>),
    /// Not seen; why.
    Missed(Miss),
    /// Hidden for long: left to its body first.
    Waiting,
    /// Nothing to look for: not started, or refused.
    Idle,
}

/// One frame of a follower.
pub(super) struct Round<'f, 'v> {
    follower: &'f mut Follower,
    frame: FrameNumber,
    view: &'v GreyView<'v>,
    is_flash: bool,
    tried: Vec<Tried>,
}

impl<'f, 'v> Round<'f, 'v> {
    pub(super) fn new(
        follower: &'f mut Follower,
        frame: FrameNumber,
        view: &'v GreyView<'v>,
        is_flash: bool,
    ) -> Self {
        Self { follower, frame, view, is_flash, tried: Vec::new() }
    }

    /// All passes in order; one outcome a start.
    pub(super) fn run(mut self) -> Vec<Outcome> {
        self.look_at_each();
        self.refuse_doubled_starts();
        for body in 0..self.follower.bodies.len() {
            self.ask_body(body);
        }
        self.look_at_waiting();
        self.part_doubled_marks();
        self.remember()
    }

    /// First pass: every target near its own prediction, or at its start.
    fn look_at_each(&mut self) {
        let is_waiting: Vec<bool> = (0..self.follower.starts.len()).map(|k| self.is_waiting(k)).collect();
        let Follower { starts, targets, options, .. } = &mut *self.follower;
        let scene = Scene { view: self.view, is_flash: self.is_flash, options };
        let frame = self.frame;
        let jobs = targets.par_iter_mut().zip(&*starts).zip(is_waiting);
        self.tried = jobs
            .map(|((target, start), is_waiting)| match &target.state {
                State::Ahead if start.start_frame == frame => begin(scene, target, start),
                State::Followed(_) if is_waiting => Tried::Waiting,
                State::Followed(_) => coast(scene, target, start, frame),
                State::Ahead | State::Refused(_) => Tried::Idle,
            })
            .collect();
    }

    /// Whether a target has been hidden for long and its body was seen in the last frame.
    fn is_waiting(&self, k: usize) -> bool {
        let follower = &*self.follower;
        let start = &follower.starts[k];
        !start.deforms
            && follower.targets[k].n_missed >= follower.options.coast_frames
            && follower.bodies.iter().any(|body| body.is_posed && Some(&body.id) == start.body.as_ref())
    }

    /// A start that lands on a target already followed is refused.
    fn refuse_doubled_starts(&mut self) {
        for k in 0..self.tried.len() {
            if self.follower.starts[k].start_frame != self.frame {
                continue;
            }
            let Some(twin) = self.twins(k).find(|&j| j < k || !self.is_starting(j)) else { continue };
            let why = format!(
                "start is not on a target of its own: it is on the same one as {}",
                self.follower.starts[twin].id
            );
            self.follower.targets[k].state = State::Refused(why);
            self.tried[k] = Tried::Idle;
        }
    }

    fn is_starting(&self, k: usize) -> bool {
        self.follower.starts[k].start_frame == self.frame
    }

    /// Other targets seen at the same spot as target `k`.
    fn twins(&self, k: usize) -> impl Iterator<Item = usize> {
        let starts = &self.follower.starts;
        let here = self.centre(k);
        (0..self.tried.len()).filter(move |&j| {
            let near = SAME_SPOT_SHARE * starts[k].radius_px.min(starts[j].radius_px);
            j != k && here.zip(self.centre(j)).is_some_and(|(a, b)| a.distance(b) < near)
        })
    }

    fn centre(&self, k: usize) -> Option<PixelPoint> {
        match &self.tried[k] {
            Tried::Seen(seen) => Some(seen.located.centre),
            _ => None,
        }
    }

    /// Second pass: a body rejects who contradicts it and guides who is missing.
    fn ask_body(&mut self, at: usize) {
        let sights: Vec<Option<Sight>> =
            self.follower.bodies[at].members.iter().map(|member| self.sight(member.target)).collect();
        let Follower { bodies, options, .. } = &mut *self.follower;
        let Verdict { pose, outliers } = bodies[at].judge(&sights, options);
        let id = bodies[at].id.clone();
        for (member, distance) in outliers {
            let target = self.follower.bodies[at].members[member].target;
            let why = format!("{distance:.1} px from where the rest of {id} puts it");
            self.tried[target] = Tried::Missed(Miss::new(GapCause::Rejected, why));
        }
        if let Some(pose) = pose {
            let angle_rad = pose.angle_rad();
            let places: Vec<(usize, Option<PixelPoint>)> = self.follower.bodies[at]
                .members
                .iter()
                .enumerate()
                .map(|(k, member)| (member.target, self.follower.bodies[at].expected(k, &pose)))
                .collect();
            self.guide(&places, angle_rad);
        }
        let members = &self.follower.bodies[at].members;
        let centres: Vec<_> = members.iter().map(|member| self.centre(member.target)).collect();
        self.follower.bodies[at].learn(pose, &centres);
    }

    fn sight(&self, k: usize) -> Option<Sight> {
        match &self.tried[k] {
            Tried::Seen(seen) => Some(Sight { centre: seen.located.centre, jump_sigmas: seen.jump_sigmas }),
            _ => None,
        }
    }

    /// Looks for the missing ones where the body puts them.
    fn guide(&mut self, places: &[(usize, Option<PixelPoint>)], angle_rad: f64) {
        let missing: Vec<(usize, PixelPoint)> = places
            .iter()
            .filter(|(k, _)| matches!(self.tried[*k], Tried::Missed(_) | Tried::Waiting))
            .filter_map(|&(k, place)| Some((k, place?)))
            .collect();
        for &(k, _) in &missing {
            if let State::Followed(known) = &mut self.follower.targets[k].state
                && (known.likeness.turned_rad - angle_rad).abs() > RETURN_RAD
            {
                known.likeness.turn_to(angle_rad);
            }
        }
        let follower = &*self.follower;
        let scene = Scene { view: self.view, is_flash: self.is_flash, options: &follower.options };
        let found: Vec<(usize, Tried)> = missing
            .par_iter()
            .map(|&(k, place)| (k, guided(scene, &follower.targets[k], &follower.starts[k], place)))
            .collect();
        for (k, tried) in found {
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

    /// Of two marks on one spot, the one that jumped further is wrong.
    fn part_doubled_marks(&mut self) {
        for k in 0..self.tried.len() {
            let Some(twin) = self.twins(k).next() else { continue };
            let jump = |at: usize| self.sight(at).map_or(0.0, |sight| sight.jump_sigmas);
            let (wrong, right) = if jump(twin) > jump(k) { (twin, k) } else { (k, twin) };
            let why = format!("on the same spot as {}", self.follower.starts[right].id);
            self.tried[wrong] = Tried::Missed(Miss::new(GapCause::Rejected, why));
        }
    }

    /// Writes the marks into the tracks and gives the outcomes.
    fn remember(mut self) -> Vec<Outcome> {
        let tried = std::mem::take(&mut self.tried);
        let Follower { starts, targets, options, .. } = &mut *self.follower;
        let frame = self.frame;
        let each = tried.into_iter().zip(&*starts).zip(targets);
        each.map(|((tried, start), target)| match tried {
            Tried::Seen(seen) => Outcome::Mark(keep(target, &seen, frame, trust::mark(&seen, options))),
            Tried::Missed(Miss { cause, why }) => {
                target.n_missed = target.n_missed.saturating_add(1);
                Outcome::Gap { cause, why }
            }
            Tried::Waiting | Tried::Idle => match &target.state {
                State::Refused(why) => Outcome::Gap { cause: GapCause::Rejected, why: why.clone() },
                _ => before_start(start),
            },
        })
        .collect()
    }
}

/// The target at its start.
fn begin(scene: Scene, target: &mut Target, start: &TargetStart) -> Tried {
    match first_sight(scene, start.kind, start.start, start.reach_px()) {
        Ok((known, seen)) => {
            target.state = State::Followed(Box::new(known));
            Tried::Seen(Box::new(seen))
        }
        Err(why) => {
            target.state = State::Refused(format!("start is not on a target: {why}"));
            Tried::Idle
        }
    }
}

/// The target near where its own track puts it.
fn coast(scene: Scene, target: &Target, start: &TargetStart, frame: FrameNumber) -> Tried {
    let options = scene.options;
    let (State::Followed(known), Some(prediction)) =
        (&target.state, target.track.predict(frame, options.acceleration_px))
    else {
        return Tried::Idle;
    };
    let wide = match prediction.u_px {
        Some(u_px) => options.least_gate_px.max(2.0 + 3.0 * u_px),
        None => options.first_gate_px * prediction.n_frames,
    };
    let gate_px = wide.min(options.greatest_gate_px);
    match attempt(scene, known, start.reach_px(), prediction.place, gate_px) {
        Ok(mut seen) => {
            let off = seen.located.centre.distance(prediction.place);
            seen.jump_sigmas = prediction
                .u_px
                .map_or(0.0, |u_px| off / u_px.hypot(seen.located.cov.xx.max(seen.located.cov.yy).sqrt()));
            if seen.jump_sigmas > options.greatest_jump_sigmas {
                let why = format!("{off:.1} px from where it was expected");
                return Tried::Missed(Miss::new(GapCause::Rejected, why));
            }
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
    match attempt(scene, known, start.reach_px(), place, tolerance.max(2.0)) {
        Ok(mut seen) => {
            let off = seen.located.centre.distance(place);
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

/// Writes a mark into its target's memory.
fn keep(target: &mut Target, seen: &Seen, frame: FrameNumber, mark: Mark) -> Mark {
    target.track.push(frame, mark.centre, &mark.cov);
    target.n_missed = 0;
    if let (State::Followed(known), Some(turned_rad)) = (&mut target.state, seen.turned_rad)
        && (turned_rad - known.likeness.turned_rad).abs() > RETURN_RAD
    {
        known.likeness.turn_to(turned_rad);
    }
    mark
}
