//! The whole body at once, when all frames are in: in every frame all targets of a body that were seen are solved for one
//! pose with weights from their covariance. Who contradicts the others is named, and hidden targets are placed with the
//! covariance that pose and layout give. Method: `docs/methods/follow.md`, "Whole body".

mod infer;
mod judge;
mod layout;
mod offset;
mod pose;

use super::aside::Asides;
use super::options::FollowOptions;
use super::record::Record;
use super::{Outcome, TargetStart};
use filmgauge_quantities::BodyId;
use layout::Layout;

/// Judges the marks of every body and adds inferred ones, but for what is set aside.
pub(super) fn fit_bodies(
    starts: &[TargetStart],
    record: &mut Record,
    asides: &Asides,
    options: &FollowOptions,
) {
    let mut bodies: Vec<&BodyId> = Vec::new();
    for body in starts.iter().filter_map(|start| start.body.as_ref()) {
        if !bodies.contains(&body) {
            bodies.push(body);
        }
    }
    for body in bodies {
        let rigid: Vec<usize> = (0..starts.len())
            .filter(|&k| starts[k].body.as_ref() == Some(body) && !starts[k].deforms)
            .collect();
        // A mask of 64 bits says who is seen; no body carries more targets than that.
        let rigid = &rigid[..rigid.len().min(64)];
        let Some(layout) = Layout::of(rigid, record) else { continue };
        for contradiction in judge::contradictions(&layout, record, options) {
            judge::write_down(record, &contradiction, options);
        }
        for (target, index, mark) in infer::inferred(&layout, record, options) {
            if !asides.holds(target, record.frames[index]) {
                record.outcomes[target][index] = Outcome::Mark(mark);
            }
        }
    }
}
