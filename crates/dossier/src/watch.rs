//! How a long run tells of its progress, shows marks as they are made, and asks whether to stop. The caller decides what
//! that looks like.

use filmgauge_quantities::{CameraId, FrameNumber, MarkState, PixelPoint, TargetId};

/// One step forward.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress<'a> {
    /// What is being done, such as "camera side: frames".
    pub step: &'a str,
    /// Done so far.
    pub done: u64,
    /// To do in all, where known.
    pub total: Option<u64>,
}

/// A mark as it is made while a film is followed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiveMark<'a> {
    /// Camera.
    pub camera: &'a CameraId,
    /// Target.
    pub target: &'a TargetId,
    /// Frame.
    pub frame: FrameNumber,
    /// Centre in the stored picture, px; of a field, in rows of the whole picture.
    pub centre: PixelPoint,
    /// Found or placed by hand; inferred marks come when all frames are in, and only in the results.
    pub state: MarkState,
}

/// Hears of progress and may ask to stop. Called from several threads.
pub trait Watch: Sync {
    /// Something went forward.
    fn progress(&self, progress: &Progress<'_>);

    /// A mark was made. Frames of a camera come in order, targets in the order of the dossier; a gap is not told. This is
    /// the first word only: looks back and the fit of whole bodies may still change it, and the results have the last.
    /// The run waits for the return. Does nothing unless the watcher says otherwise.
    fn mark(&self, _mark: &LiveMark<'_>) {}

    /// Whether the person asked to stop; the run then ends at the next frame.
    fn stop_asked(&self) -> bool;
}

/// Says nothing and never stops.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unwatched;

impl Watch for Unwatched {
    fn progress(&self, _progress: &Progress<'_>) {}
    fn stop_asked(&self) -> bool {
        false
    }
}
