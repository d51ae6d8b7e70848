//! Carries targets from frame to frame: predict, find, locate, test, then let each body judge its targets and
//! guide those still missing; a look back after every gap; at the end one fit of the whole body in every frame.
//! Method and known failures: `docs/methods/follow.md`.
//!
//! A wrong mark is far worse than a gap: whatever fails a test becomes a gap with its cause.

mod apart;
mod aside;
mod attempt;
mod back;
mod body;
mod choose;
mod coarse;
mod gate;
mod hand;
mod keep;
mod known;
mod light;
mod likeness;
mod look;
mod options;
mod outcome;
mod pattern;
mod recent;
mod record;
mod refused;
mod rigid;
mod round;
mod similarity;
mod starts;
mod track;
mod trust;
mod wide;

pub use aside::SetAside;
pub use hand::HandMark;
pub use options::FollowOptions;
pub use outcome::{Mark, Outcome};

use crate::error::TargetsError;
use aside::Asides;
use body::Body;
use filmgauge_quantities::{BodyId, FrameNumber, GapCause, GreyView, PixelPoint, TargetId, TargetKind};
use hand::HandMarks;
use known::Known;
use light::Light;
use recent::Recent;
use record::Record;
use refused::Refused;
use track::{Provisional, Track};

/// How fast the usual mean level follows the frames, per frame.
const LEVEL_GAIN: f64 = 0.1;

/// The same during a flash: a lasting change of light becomes usual in the end.
const LEVEL_GAIN_IN_FLASH: f64 = 0.01;

/// Soft edges reach this far, px: targets nearer than that overlap.
const OVERLAP_ROOM_PX: f64 = 1.0;

/// A target behind another is less alike by at least this much.
const COVERED_ZNCC: f64 = 0.01;

/// A target as the analyst gives it.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetStart {
    /// The target's id, unique within one follower.
    pub id: TargetId,
    /// The body that it is fixed to, if any.
    pub body: Option<BodyId>,
    /// What it looks like. A [`TargetKind::Patch`] is a square of natural texture with `radius_px` as half its side.
    pub kind: TargetKind,
    /// Frame in which it is first marked.
    pub start_frame: FrameNumber,
    /// Its centre there, good to about 2 px; of a patch, the very point that is meant.
    pub start: PixelPoint,
    /// Its radius, px; 3 to 500. A disc or ring needs plain surroundings out to 1.5 times this.
    pub radius_px: f64,
    /// In the crush zone: it never guides or judges its body.
    pub deforms: bool,
}

impl TargetStart {
    /// Radius that the target is compared and located over, px. The edges of a disc or ring lie at its rim, so that
    /// plain surroundings of half a radius are taken in.
    fn reach_px(&self) -> f64 {
        match self.kind {
            TargetKind::Disc | TargetKind::Ring => 1.5 * self.radius_px,
            TargetKind::Quadrant | TargetKind::Cross | TargetKind::Patch => self.radius_px,
        }
    }

    /// Whether targets whose centres are so far apart lie over each other.
    fn may_overlap(&self, other: &Self, apart_px: f64) -> bool {
        apart_px < self.reach_px() + other.radius_px + OVERLAP_ROOM_PX
    }

    /// Whether a mark of this target lies behind another's: they overlap, and this one is clearly less alike.
    fn is_behind(&self, front: &Self, apart_px: f64, own_zncc: f64, front_zncc: f64) -> bool {
        self.may_overlap(front, apart_px) && own_zncc < front_zncc - COVERED_ZNCC
    }
}

/// Follows all targets of one camera.
#[derive(Debug, Clone)]
pub struct Follower {
    starts: Vec<TargetStart>,
    options: FollowOptions,
    targets: Vec<Target>,
    bodies: Vec<Body>,
    hand: HandMarks,
    asides: Asides,
    record: Record,
    /// Mean level of the frames so far, without flashes.
    usual_level: Option<f64>,
    last_frame: Option<FrameNumber>,
}

/// What the follower remembers of one target.
#[derive(Debug, Clone)]
struct Target {
    state: State,
    track: Track,
    /// Frames in a row without a mark.
    n_missed: u32,
    /// Sightings after a loss that are not confirmed yet.
    provisional: Provisional,
    /// Small cuts of the last frames, for the look back.
    recent: Recent,
}

#[derive(Debug, Clone)]
enum State {
    /// The start is still to come.
    Ahead,
    /// Followed since its start.
    Followed(Box<Known>),
    /// The start was no target; why.
    Refused(String),
}

impl Target {
    fn ahead() -> Self {
        Self {
            state: State::Ahead,
            track: Track::default(),
            n_missed: 0,
            provisional: Provisional::default(),
            recent: Recent::default(),
        }
    }
}

impl Follower {
    /// A follower for these starts.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] for a setting out of range, [`TargetsError::Start`] for a start that cannot be
    /// right (radius out of range, place not a number, an id or a target given twice).
    pub fn new(starts: Vec<TargetStart>, options: FollowOptions) -> Result<Self, TargetsError> {
        Self::with_hand(starts, Vec::new(), options)
    }

    /// A follower with marks placed by hand. They win over anything found, are never changed, and the search goes on
    /// from them.
    ///
    /// # Errors
    /// As [`Follower::new`]; [`TargetsError::Hand`] for a hand mark of an unknown target, given twice, or without
    /// sense.
    pub fn with_hand(
        starts: Vec<TargetStart>,
        hand: Vec<HandMark>,
        options: FollowOptions,
    ) -> Result<Self, TargetsError> {
        options.check()?;
        starts::check(&starts)?;
        let hand = HandMarks::of(&starts, hand)?;
        let targets = starts.iter().map(|_| Target::ahead()).collect();
        let bodies = starts::bodies(&starts);
        let record = Record::new(starts.len());
        let asides = Asides::default();
        Ok(Self {
            starts,
            options,
            targets,
            bodies,
            hand,
            asides,
            record,
            usual_level: None,
            last_frame: None,
        })
    }

    /// The same follower, which makes nothing of the marks in these stretches. Marks by hand stand even there.
    ///
    /// # Errors
    /// [`TargetsError::Start`] for a stretch of an unknown target.
    pub fn setting_aside(mut self, asides: Vec<SetAside>) -> Result<Self, TargetsError> {
        self.asides = Asides::of(&self.starts, asides)?;
        Ok(self)
    }

    /// The starts, in the order of the outcomes.
    #[must_use]
    pub fn starts(&self) -> &[TargetStart] {
        &self.starts
    }

    /// Follows all targets into `frame`; one outcome a start, in the same order. Frames must come in rising order;
    /// one that does not, or that is `damaged`, leaves gaps and changes nothing.
    ///
    /// What is given here is what is known so far: [`Follower::finish`] has the last word.
    pub fn step(&mut self, frame: FrameNumber, view: &GreyView, damaged: bool) -> Vec<Outcome> {
        if self.last_frame.is_some_and(|last| frame <= last) {
            return self.gaps(frame, GapCause::Rejected, "this frame was given after a later one");
        }
        self.last_frame = Some(frame);
        let light = (!damaged).then(|| Light::of(view, &self.options));
        let is_flash = light.as_ref().is_some_and(|light| self.is_flash(light, view.full_scale()));
        let unseen = match light {
            None => Some((GapCause::DamagedFrame, "the frame is damaged".to_owned())),
            Some(light) => light.blank(frame, view.full_scale()),
        };
        self.refuse_lost_starts(frame, unseen.as_ref().map(|(_, why)| why.as_str()));
        let mut outcomes = match unseen {
            Some((cause, why)) => self.missed(frame, cause, &why),
            None => round::Round::new(self, frame, view, is_flash).run(),
        };
        self.record.push(frame, view, &outcomes);
        for k in 0..self.targets.len() {
            back::look_back(self, k, false);
        }
        for (k, outcome) in outcomes.iter_mut().enumerate() {
            self.asides.apply(k, frame, outcome);
        }
        outcomes
    }

    /// The final outcomes: for each start one outcome for every frame given, in order, after all looks back and with
    /// every body fitted as a whole.
    #[must_use]
    pub fn finish(mut self) -> Vec<Vec<Outcome>> {
        for k in 0..self.targets.len() {
            back::look_back(&mut self, k, true);
        }
        self.record.set_aside(&self.asides);
        rigid::fit_bodies(&self.starts, &mut self.record, &self.asides, &self.options);
        self.record.outcomes
    }

    /// A frame in which nothing can be found; marks by hand stand even there.
    fn missed(&mut self, frame: FrameNumber, cause: GapCause, why: &str) -> Vec<Outcome> {
        let mut outcomes = self.gaps(frame, cause, why);
        for (k, (target, outcome)) in self.targets.iter_mut().zip(&mut outcomes).enumerate() {
            target.n_missed = target.n_missed.saturating_add(1);
            if let Some(mark) = self.hand.at(k, frame) {
                target.track.restart(frame, mark.centre, &mark.cov);
                *outcome = Outcome::Mark(mark);
            }
        }
        outcomes
    }

    /// Whether the frame is much brighter than usual; remembers its level.
    fn is_flash(&mut self, light: &Light, full_scale: f32) -> bool {
        let level = light.mean;
        let usual = self.usual_level.unwrap_or(level);
        let is_flash = level - usual > self.options.flash_share * f64::from(full_scale);
        let gain = if is_flash { LEVEL_GAIN_IN_FLASH } else { LEVEL_GAIN };
        self.usual_level = Some(usual + gain * (level - usual));
        is_flash
    }

    /// Starts whose frame was never shown, or shows nothing (`unseen` says why), cannot be used.
    fn refuse_lost_starts(&mut self, frame: FrameNumber, unseen: Option<&str>) {
        for (start, target) in self.starts.iter().zip(&mut self.targets) {
            let at = start.start_frame;
            let refused = match unseen {
                _ if !matches!(target.state, State::Ahead) => None,
                _ if at < frame => Some(Refused::unseen("which was never given, it cannot be seen")),
                Some(why) if at == frame => Some(Refused::unseen(why)),
                _ => None,
            };
            if let Some(refused) = refused {
                target.state = State::Refused(refused.words(at));
            }
        }
    }

    /// The same gap for all targets that are being followed.
    fn gaps(&self, frame: FrameNumber, cause: GapCause, why: &str) -> Vec<Outcome> {
        let gap = |(start, target): (&TargetStart, &Target)| match &target.state {
            _ if frame < start.start_frame => before_start(start),
            State::Refused(why) => Outcome::Gap { cause: GapCause::Rejected, why: why.clone() },
            _ => Outcome::Gap { cause, why: why.to_owned() },
        };
        self.starts.iter().zip(&self.targets).map(gap).collect()
    }
}

fn before_start(start: &TargetStart) -> Outcome {
    let why = format!("it starts in frame {}", start.start_frame);
    Outcome::Gap { cause: GapCause::BeforeStart, why }
}

#[cfg(test)]
mod aside_tests;
#[cfg(test)]
mod bad_input_tests;
#[cfg(test)]
mod film_tests;
#[cfg(test)]
mod tests;
