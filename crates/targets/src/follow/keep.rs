//! Writes a frame's sightings down: marks into tracks, sightings that wait for confirmation, small cuts for the look back.

use super::attempt::{Miss, Seen};
use super::round::{Round, Tried};
use super::{Follower, Mark, Outcome, State, before_start, trust};
use filmgauge_quantities::GapCause;

impl Round<'_, '_> {
    /// Writes the marks into the tracks, keeps small cuts, and gives the outcomes.
    pub(super) fn remember(mut self) -> Vec<Outcome> {
        let tried = std::mem::take(&mut self.tried);
        (0..tried.len()).zip(tried).map(|(k, tried)| self.outcome(k, tried)).collect()
    }

    fn outcome(&mut self, k: usize, tried: Tried) -> Outcome {
        let outcome = match tried {
            Tried::Seen(seen) => self.keep(k, *seen),
            Tried::Hand(mark) => {
                let target = &mut self.follower.targets[k];
                target.track.restart(self.frame, mark.centre, &mark.cov);
                target.provisional.seen.clear();
                target.n_missed = 0;
                Outcome::Mark(*mark)
            }
            Tried::Missed(Miss { cause, why }) => {
                let target = &mut self.follower.targets[k];
                target.provisional.seen.clear();
                target.n_missed = target.n_missed.saturating_add(1);
                Outcome::Gap { cause, why }
            }
            Tried::Waiting | Tried::Idle => match &self.follower.targets[k].state {
                State::Refused(why) => Outcome::Gap { cause: GapCause::Rejected, why: why.clone() },
                _ => before_start(&self.follower.starts[k]),
            },
        };
        self.keep_cut(k, outcome.mark());
        outcome
    }

    /// A sighting becomes a mark, unless it must still be confirmed.
    fn keep(&mut self, k: usize, seen: Seen) -> Outcome {
        let Follower { targets, options, record, .. } = &mut *self.follower;
        let target = &mut targets[k];
        if let State::Followed(known) = &mut target.state {
            known.follow(&seen);
        }
        let was_lost = target.n_missed > 0;
        let is_alone = seen.is_provisional;
        if seen.is_provisional || !target.provisional.seen.is_empty() {
            target.provisional.seen.push((self.frame, seen));
            if is_alone && target.provisional.seen.len() < options.confirm_frames as usize {
                target.n_missed = target.n_missed.saturating_add(1);
                let why = "seen again, but not confirmed over several frames".to_owned();
                return Outcome::Gap { cause: GapCause::Rejected, why };
            }
        } else {
            target.provisional.seen = vec![(self.frame, seen)];
        }
        let seen = std::mem::take(&mut target.provisional.seen);
        let first = seen.first().map(|(frame, _)| *frame);
        let mut last = None;
        for (frame, mut seen) in seen {
            if is_alone {
                let why = "found again by itself, without its body".to_owned();
                seen.doubts.push((options.alone_trust, why));
            }
            let mark = trust::mark(&seen, options);
            if was_lost && Some(frame) == first && is_alone {
                target.track.restart(frame, mark.centre, &mark.cov);
            } else {
                target.track.push(frame, mark.centre, &mark.cov);
            }
            if frame < self.frame {
                record.overwrite(k, frame, mark.clone());
            }
            last = Some(mark);
        }
        target.n_missed = 0;
        if was_lost {
            target.recent.found_again = first;
        }
        last.map_or_else(
            || Outcome::Gap { cause: GapCause::Rejected, why: "nothing seen".to_owned() },
            Outcome::Mark,
        )
    }

    fn keep_cut(&mut self, k: usize, mark: Option<&Mark>) {
        let place = mark.map(|mark| mark.centre).or(self.expected[k]).or(self.predicted[k]);
        let Follower { targets, starts, options, .. } = &mut *self.follower;
        let target = &mut targets[k];
        let (Some(place), State::Followed(_)) = (place, &target.state) else { return };
        let wide = if mark.is_some() || self.expected[k].is_some() { 0 } else { target.n_missed };
        target.recent.keep(
            (self.frame, self.view, self.is_flash),
            (place, starts[k].reach_px()),
            wide,
            options,
        );
    }
}
