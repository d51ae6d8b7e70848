//! Where the targets of a body lie against each other in the picture, from the frames that show most of them.

use super::pose::Pose;
use crate::follow::record::Record;
use filmgauge_quantities::{PixelCov, PixelPoint};

/// Frames that the layout is averaged over.
const N_FRAMES: usize = 30;

/// The rigid targets of one body and their places. Axes are the picture's in the frame that first showed most of them.
#[derive(Debug, Clone)]
pub(super) struct Layout {
    /// Target's number and its place; those never seen together with two others have none and are left out.
    pub(super) members: Vec<(usize, PixelPoint)>,
}

impl Layout {
    /// `None` when no frame shows two targets.
    pub(super) fn of(rigid: &[usize], record: &Record) -> Option<Self> {
        let seen = |index: usize| rigid.iter().filter(move |&&k| measured(record, k, index).is_some());
        let n_frames = record.frames.len();
        let most = (0..n_frames).map(|index| seen(index).count()).max()?;
        let first = (0..n_frames).find(|&index| seen(index).count() == most && most >= 2)?;
        let there: Vec<(usize, PixelPoint)> =
            seen(first).filter_map(|&k| Some((k, measured(record, k, first)?.0))).collect();
        let n = there.len() as f64;
        let middle = (
            there.iter().map(|(_, place)| place.x).sum::<f64>() / n,
            there.iter().map(|(_, place)| place.y).sum::<f64>() / n,
        );
        let members = there.iter().map(|(k, place)| (*k, place.moved(-middle.0, -middle.1))).collect();
        let mut layout = Self { members };
        layout.average(record, first);
        for &k in rigid.iter().filter(|k| there.iter().all(|(other, _)| other != *k)) {
            let places = (0..n_frames).filter_map(|index| {
                let pose = layout.pose(record, index, layout.others(record, index, k))?;
                Some(pose.unmap(measured(record, k, index)?.0))
            });
            let places: Vec<PixelPoint> = places.take(N_FRAMES).collect();
            if !places.is_empty() {
                layout.members.push((k, mean(&places)));
            }
        }
        Some(layout)
    }

    /// Averages the places over frames from `first` on.
    fn average(&mut self, record: &Record, first: usize) {
        let all = (1_u64 << self.members.len().min(63)) - 1;
        let mut places: Vec<Vec<PixelPoint>> = vec![Vec::new(); self.members.len()];
        for index in (first..record.frames.len()).take(N_FRAMES) {
            if self.others(record, index, usize::MAX) != all {
                continue;
            }
            let Some(pose) = self.pose(record, index, all) else { continue };
            for (list, (k, _)) in places.iter_mut().zip(&self.members) {
                list.extend(measured(record, *k, index).map(|(centre, _)| pose.unmap(centre)));
            }
        }
        for ((_, place), list) in self.members.iter_mut().zip(&places) {
            if !list.is_empty() {
                *place = mean(list);
            }
        }
    }

    /// Mask of the members measured in a frame, without target `k`.
    pub(super) fn others(&self, record: &Record, index: usize, k: usize) -> u64 {
        let bit = |(n, (target, _)): (usize, &(usize, PixelPoint))| {
            let is_seen = *target != k && measured(record, *target, index).is_some();
            u64::from(is_seen) << n.min(63)
        };
        self.members.iter().enumerate().map(bit).fold(0, |mask, bit| mask | bit)
    }

    /// Pose from the members of a mask, all of which must be measured in the frame.
    pub(super) fn pose(&self, record: &Record, index: usize, mask: u64) -> Option<Pose> {
        if mask.count_ones() < 2 {
            return None;
        }
        let chosen = self.members.iter().enumerate().filter(|(n, _)| mask >> n & 1 == 1);
        let mut pairs = Vec::with_capacity(self.members.len());
        for (_, (k, place)) in chosen {
            let (centre, cov) = measured(record, *k, index)?;
            pairs.push((*place, centre, cov));
        }
        Pose::fit(pairs.into_iter())
    }
}

/// A target's measured mark in a frame.
pub(super) fn measured(record: &Record, k: usize, index: usize) -> Option<(PixelPoint, PixelCov)> {
    record.outcomes[k].get(index)?.measured().map(|mark| (mark.centre, mark.cov))
}

fn mean(places: &[PixelPoint]) -> PixelPoint {
    let n = places.len() as f64;
    PixelPoint::new(
        places.iter().map(|place| place.x).sum::<f64>() / n,
        places.iter().map(|place| place.y).sum::<f64>() / n,
    )
}
