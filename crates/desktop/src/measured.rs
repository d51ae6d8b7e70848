//! The last good results, and which state of the dossier they are for.

use crate::frame_clock::FrameClock;
use filmgauge_results::{GapRow, MarkRow, Results};
use std::collections::BTreeMap;
use std::time::Instant;

/// Results as the desk looks at them.
#[derive(Debug)]
pub(crate) struct Measured {
    /// The results.
    pub(crate) results: Results,
    /// Version of the workbook that was measured.
    pub(crate) version: u64,
    /// When it came; no two measurements share it.
    pub(crate) came: Instant,
    clocks: BTreeMap<String, FrameClock>,
    /// Rows of `results.marks` by camera and target, in order of frames.
    marks: BTreeMap<(String, String), Vec<MarkRow>>,
}

impl Measured {
    /// Results of the workbook's `version`.
    pub(crate) fn new(results: Results, version: u64) -> Self {
        let mut marks: BTreeMap<(String, String), Vec<MarkRow>> = BTreeMap::new();
        for mark in &results.marks {
            marks.entry((mark.camera.clone(), mark.target.clone())).or_default().push(mark.clone());
        }
        for rows in marks.values_mut() {
            rows.sort_by_key(|mark| mark.frame);
        }
        let clock = |camera: &filmgauge_results::CameraSummary| {
            (camera.id.clone(), FrameClock::of(&results, &camera.id))
        };
        let clocks = results.cameras.iter().map(clock).collect();
        Self { clocks, marks, results, version, came: Instant::now() }
    }

    /// Clock of a camera.
    pub(crate) fn clock(&self, camera: &str) -> Option<&FrameClock> {
        self.clocks.get(camera)
    }

    /// Marks of a target, in order of frames.
    pub(crate) fn marks(&self, camera: &str, target: &str) -> &[MarkRow] {
        self.marks.get(&(camera.to_owned(), target.to_owned())).map_or(&[], Vec::as_slice)
    }

    /// The mark of a target in a frame.
    pub(crate) fn mark(&self, camera: &str, target: &str, frame: u32) -> Option<&MarkRow> {
        let rows = self.marks(camera, target);
        rows.binary_search_by_key(&frame, |mark| mark.frame).ok().map(|at| &rows[at])
    }

    /// Gaps of a camera.
    pub(crate) fn gaps<'a>(&'a self, camera: &'a str) -> impl Iterator<Item = &'a GapRow> {
        self.results.gaps.iter().filter(move |gap| gap.camera == camera)
    }

    /// The gap of a target that holds a frame.
    pub(crate) fn gap_at(&self, camera: &str, target: &str, frame: u32) -> Option<&GapRow> {
        let mut gaps = self.results.gaps.iter();
        gaps.find(|gap| {
            gap.camera == camera
                && gap.target == target
                && (gap.first_frame..=gap.last_frame).contains(&frame)
        })
    }
}
