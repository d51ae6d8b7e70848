//! The last good results, and which state of the dossier they are for.

use crate::frame_clock::FrameClock;
use filmgauge_results::{GapRow, MarkRow, Results};
use std::collections::BTreeMap;
use std::ops::Range;
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
    /// Where in `results.marks` the rows of a camera's target stand; they are in order of frames.
    marks: BTreeMap<(String, String), Range<usize>>,
}

impl Measured {
    /// Results of the workbook's `version`.
    pub(crate) fn new(results: Results, version: u64) -> Self {
        let mut marks = BTreeMap::new();
        let mut from = 0;
        let of_one = |a: &MarkRow, b: &MarkRow| a.camera == b.camera && a.target == b.target;
        for rows in results.marks.chunk_by(of_one) {
            let key = (rows[0].camera.clone(), rows[0].target.clone());
            marks.insert(key, from..from + rows.len());
            from += rows.len();
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
        let rows = self.marks.get(&(camera.to_owned(), target.to_owned()));
        rows.map_or(&[], |rows| &self.results.marks[rows.clone()])
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
