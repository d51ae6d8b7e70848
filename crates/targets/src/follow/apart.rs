//! Keeps targets apart: two on one spot, one behind another, a start on a target that is already followed.

use super::State;
use super::attempt::Miss;
use super::refused::Refused;
use super::round::{Round, Tried};
use filmgauge_quantities::{GapCause, PixelPoint};

/// Two marks nearer than this share of the smaller radius are the same spot.
pub(super) const SAME_SPOT_SHARE: f64 = 0.5;

/// What is left of the trust of a mark whose spot two targets might have.
const CONTESTED_TRUST: f64 = 0.4;

impl Round<'_, '_> {
    /// A start that lands on a target already followed is refused.
    pub(super) fn refuse_doubled_starts(&mut self) {
        for k in 0..self.tried.len() {
            if self.follower.starts[k].start_frame != self.frame || !matches!(self.tried[k], Tried::Seen(_)) {
                continue;
            }
            let Some(twin) = self.twins(k).find(|&j| j < k || !self.is_starting(j)) else { continue };
            let refused = Refused::taken(&self.follower.starts[twin].id);
            self.follower.targets[k].state = State::Refused(refused.words(self.frame));
            self.tried[k] = Tried::Idle;
        }
    }

    fn is_starting(&self, k: usize) -> bool {
        self.follower.starts[k].start_frame == self.frame
    }

    /// Other targets seen at the same spot as target `k`.
    fn twins(&self, k: usize) -> impl Iterator<Item = usize> {
        let here = self.centre(k);
        (0..self.tried.len()).filter(move |&j| {
            j != k && here.zip(self.centre(j)).is_some_and(|(a, b)| self.is_one(k, j, a, b))
        })
    }

    /// Whether places of two targets are one spot.
    pub(super) fn is_one(&self, k: usize, j: usize, a: PixelPoint, b: PixelPoint) -> bool {
        let starts = &self.follower.starts;
        let apart_px = SAME_SPOT_SHARE * starts[k].radius_px.min(starts[j].radius_px);
        (a.x - b.x).abs() < apart_px && a.distance(b) < apart_px
    }

    /// Of two marks on one spot, the one further from where its body, or else its own way, puts it is wrong. Where that is
    /// not clear the other one is doubtful too.
    pub(super) fn part_doubled_marks(&mut self) {
        for k in 0..self.tried.len() {
            let Some(twin) = self.twins(k).next() else { continue };
            let (wrong, right) = if self.off_px(twin) > self.off_px(k) { (twin, k) } else { (k, twin) };
            let (wrong, right) =
                if matches!(self.tried[wrong], Tried::Hand(_)) { (right, wrong) } else { (wrong, right) };
            let why = format!("on the same spot as {}", self.follower.starts[wrong].id);
            if self.off_px(right) > 0.5 * self.off_px(wrong)
                && let Tried::Seen(seen) = &mut self.tried[right]
            {
                seen.doubts.push((CONTESTED_TRUST, why));
            }
            if matches!(self.tried[wrong], Tried::Seen(_)) {
                let why = format!("on the same spot as {}", self.follower.starts[right].id);
                self.tried[wrong] = Tried::Missed(Miss::new(GapCause::Rejected, why));
            }
        }
    }

    /// Distance of a sighting from where it was expected, px: by its body and, unless the body led to it, by its own way,
    /// for a pose of two targets has no opinion of its own.
    fn off_px(&self, k: usize) -> f64 {
        let Some(centre) = self.centre(k) else { return 0.0 };
        let off = |place: Option<PixelPoint>| place.map(|place| centre.distance(place));
        let by_body = off(self.expected[k]);
        let is_guided = matches!(&self.tried[k], Tried::Seen(seen) if seen.is_guided);
        let by_itself = off(self.predicted[k]).filter(|_| !is_guided || by_body.is_none());
        by_body.unwrap_or(0.0).max(by_itself.unwrap_or(0.0))
    }

    /// Of two targets that lie over each other the less alike one is behind: what is left of it is no measure.
    pub(super) fn drop_covered_marks(&mut self) {
        let zncc = |tried: &Tried| match tried {
            Tried::Seen(seen) => Some((seen.centre, seen.zncc)),
            _ => None,
        };
        let starts = &self.follower.starts;
        let behind: Vec<Option<usize>> = (0..self.tried.len())
            .map(|k| {
                let (here, own) = zncc(&self.tried[k])?;
                (0..self.tried.len()).filter(|&j| j != k).find(|&j| {
                    zncc(&self.tried[j]).is_some_and(|(there, other)| {
                        starts[k].may_overlap(&starts[j], (here.x - there.x).abs())
                            && starts[k].is_behind(&starts[j], here.distance(there), own, other)
                    })
                })
            })
            .collect();
        for (k, front) in behind.into_iter().enumerate() {
            if let Some(front) = front {
                let why = format!("partly behind {}", self.follower.starts[front].id);
                self.tried[k] = Tried::Missed(Miss::new(GapCause::Hidden, why));
            }
        }
    }
}
