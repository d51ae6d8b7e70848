//! For each target: how many frames have which kind of mark, and where the gaps lie.

use filmgauge_results::{GapRow, MarkRow};
use serde::Serialize;
use std::collections::BTreeMap;

/// One target of one camera.
#[derive(Serialize, Default)]
pub(crate) struct TargetView {
    pub(crate) camera: String,
    pub(crate) target: String,
    pub(crate) found: usize,
    pub(crate) hand: usize,
    pub(crate) inferred: usize,
    pub(crate) gaps: Vec<GapView>,
}

#[derive(Serialize)]
pub(crate) struct GapView {
    pub(crate) frames: String,
    pub(crate) cause: String,
}

/// Targets in the order in which marks, then gaps, first name them.
pub(super) fn targets(marks: &[MarkRow], gaps: &[GapRow]) -> Vec<TargetView> {
    let mut places: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    let mut targets: Vec<TargetView> = Vec::new();
    let mut place_of = |targets: &mut Vec<TargetView>, camera, target| {
        *places.entry((camera, target)).or_insert_with(|| {
            let (camera, target) = (String::from(camera), String::from(target));
            targets.push(TargetView { camera, target, ..TargetView::default() });
            targets.len() - 1
        })
    };
    for mark in marks {
        let place = place_of(&mut targets, mark.camera.as_str(), mark.target.as_str());
        match mark.state.as_str() {
            "hand" => targets[place].hand += 1,
            "inferred" => targets[place].inferred += 1,
            _ => targets[place].found += 1,
        }
    }
    for gap in gaps {
        let place = place_of(&mut targets, gap.camera.as_str(), gap.target.as_str());
        let frames = match (gap.first_frame, gap.last_frame) {
            (first, last) if first == last => first.to_string(),
            (first, last) => format!("{first}–{last}"),
        };
        targets[place].gaps.push(GapView { frames, cause: gap.cause.clone() });
    }
    targets
}
