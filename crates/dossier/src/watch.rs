//! How a long run tells of its progress and asks whether to stop. The caller decides what that looks like.

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

/// Hears of progress and may ask to stop. Called from several threads.
pub trait Watch: Sync {
    /// Something went forward.
    fn progress(&self, progress: &Progress<'_>);
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
