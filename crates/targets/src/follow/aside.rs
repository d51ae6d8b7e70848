//! Stretches whose marks a person does not trust. The target is followed through them, so that the marks after them stay
//! what they were, but nothing is made of what was found there: neither marks nor the fit of its body.

use super::{Outcome, TargetStart};
use crate::error::TargetsError;
use filmgauge_quantities::{FrameNumber, GapCause, MarkState, TargetId};
use std::ops::RangeInclusive;

/// A stretch of one target's frames whose marks are dropped. Marks by hand stay.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SetAside {
    /// The target.
    pub target: TargetId,
    /// First to last frame.
    pub frames: RangeInclusive<u32>,
    /// Cause of the gap that is left.
    pub cause: GapCause,
}

/// All of them, by the target's place among the starts.
#[derive(Debug, Clone, Default)]
pub(super) struct Asides {
    stretches: Vec<(usize, SetAside)>,
}

impl Asides {
    pub(super) fn of(starts: &[TargetStart], asides: Vec<SetAside>) -> Result<Self, TargetsError> {
        let placed = asides.into_iter().map(|aside| {
            let k = starts.iter().position(|start| start.id == aside.target);
            let unknown = || TargetsError::Start {
                target: aside.target.clone(),
                why: "marks of it are set aside, but there is no such target".to_owned(),
            };
            Ok((k.ok_or_else(unknown)?, aside))
        });
        Ok(Self { stretches: placed.collect::<Result<_, _>>()? })
    }

    /// Whether target `k` is set aside in a frame.
    pub(super) fn holds(&self, k: usize, frame: FrameNumber) -> bool {
        self.cause(k, frame).is_some()
    }

    fn cause(&self, k: usize, frame: FrameNumber) -> Option<GapCause> {
        let here = |(target, aside): &&(usize, SetAside)| *target == k && aside.frames.contains(&frame.0);
        self.stretches.iter().find(here).map(|(_, aside)| aside.cause)
    }

    /// Turns what was found of target `k` in a frame into a gap.
    pub(super) fn apply(&self, k: usize, frame: FrameNumber, outcome: &mut Outcome) {
        let Some(cause) = self.cause(k, frame) else { return };
        let stands = match &*outcome {
            Outcome::Mark(mark) => mark.state == MarkState::Hand,
            Outcome::Gap { cause, .. } => *cause == GapCause::BeforeStart,
        };
        if !stands {
            *outcome = Outcome::Gap { cause, why: "set aside by a person".to_owned() };
        }
    }
}
