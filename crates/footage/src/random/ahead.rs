//! Frames for a screen: the latest request wins, and neighbours are fetched ahead in the direction of travel.

use super::RandomReader;
use crate::{FootageError, Frame};
use filmgauge_quantities::FrameNumber;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;

/// Frames fetched ahead of the latest one asked for.
const AHEAD: u32 = 16;

/// A thread that fetches frames. Requests never wait; one that is overtaken by another is given up. Dropped, it ends
/// at once.
pub struct ReadAhead {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
    n_frames: u32,
}

struct Shared {
    state: Mutex<State>,
    changed: Condvar,
    /// Breaks off the fetching of a frame that is not wanted any more.
    broken_off: Arc<AtomicBool>,
}

#[derive(Default)]
struct State {
    wanted: Option<u32>,
    /// Travels towards higher numbers.
    forward: bool,
    is_new: bool,
    latest: Option<Arc<Frame>>,
    error: Option<FootageError>,
    stop: bool,
}

impl ReadAhead {
    /// Begins to serve frames of `reader`.
    #[must_use]
    pub fn new(mut reader: RandomReader) -> Self {
        let broken_off = Arc::new(AtomicBool::new(false));
        reader.break_off_by(Arc::clone(&broken_off));
        let n_frames = u32::try_from(reader.len()).unwrap_or(u32::MAX);
        let state = Mutex::new(State { forward: true, ..State::default() });
        let shared = Arc::new(Shared { state, changed: Condvar::new(), broken_off });
        let served = Arc::clone(&shared);
        let thread = std::thread::spawn(move || serve(reader, &served, n_frames));
        Self { shared, thread: Some(thread), n_frames }
    }

    /// Asks for a frame, and gives up the one asked for before. Numbers beyond the last frame mean the last one.
    pub fn request(&self, number: FrameNumber) {
        let number = number.0.min(self.n_frames.saturating_sub(1));
        let mut state = self.shared.lock();
        if let Some(before) = state.wanted.filter(|&before| before != number) {
            state.forward = number > before;
        }
        let is_under_way = state.is_new && state.wanted == Some(number);
        state.wanted = Some(number);
        state.is_new = true;
        self.shared.broken_off.store(!is_under_way, Ordering::Relaxed);
        self.shared.changed.notify_all();
    }

    /// Gives up what is asked for; nothing is fetched until the next request.
    pub fn cancel(&self) {
        let mut state = self.shared.lock();
        state.wanted = None;
        state.is_new = false;
        self.shared.broken_off.store(true, Ordering::Relaxed);
        self.shared.changed.notify_all();
    }

    /// The latest frame that was asked for and has come.
    #[must_use]
    pub fn latest(&self) -> Option<Arc<Frame>> {
        self.shared.lock().latest.clone()
    }

    /// Why the latest request failed; told once.
    #[must_use]
    pub fn take_error(&self) -> Option<FootageError> {
        self.shared.lock().error.take()
    }

    /// Waits until the latest request has been answered or has failed, or `most` has passed; whether it was answered.
    #[must_use]
    pub fn wait(&self, most: std::time::Duration) -> bool {
        let is_waiting = |state: &mut State| state.is_new && !state.stop;
        let waited = self.shared.changed.wait_timeout_while(self.shared.lock(), most, is_waiting);
        let (state, _) = waited.unwrap_or_else(PoisonError::into_inner);
        !state.is_new && state.error.is_none() && state.latest.is_some()
    }
}

impl Drop for ReadAhead {
    fn drop(&mut self) {
        self.shared.lock().stop = true;
        self.shared.broken_off.store(true, Ordering::Relaxed);
        self.shared.changed.notify_all();
        if let Some(thread) = self.thread.take() {
            // A thread that failed has nothing more to tell.
            let _ = thread.join();
        }
    }
}

impl std::fmt::Debug for ReadAhead {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("ReadAhead").field("n_frames", &self.n_frames).finish_non_exhaustive()
    }
}

impl Shared {
    /// No code that holds the lock can fail half-way, so a lock left by a panic is sound.
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Serves requests, and between them fetches neighbours into the reader's cache.
fn serve(mut reader: RandomReader, shared: &Shared, n_frames: u32) {
    let mut fetched_ahead = 0;
    loop {
        let mut state = shared.lock();
        while !state.stop && !state.is_new && (state.wanted.is_none() || fetched_ahead >= AHEAD) {
            state = shared.changed.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
        if state.stop {
            return;
        }
        let (Some(wanted), is_new, forward) = (state.wanted, state.is_new, state.forward) else { continue };
        // Under the lock, so that no request can come between.
        shared.broken_off.store(false, Ordering::Relaxed);
        drop(state);
        if is_new {
            fetched_ahead = 0;
            let outcome = reader.frame(FrameNumber(wanted));
            answer(shared, wanted, outcome);
        } else {
            fetched_ahead += 1;
            match neighbour(wanted, fetched_ahead, forward, n_frames) {
                // A neighbour that fails will fail again, and be told, when it is asked for. One that was broken off
                // gives way to a request.
                Some(number) if reader.frame(FrameNumber(number)).is_ok() => {}
                _ => fetched_ahead = AHEAD,
            }
        }
    }
}

fn answer(shared: &Shared, wanted: u32, outcome: Result<Arc<Frame>, FootageError>) {
    let mut state = shared.lock();
    let is_broken_off = matches!(outcome, Err(FootageError::Stopped { .. }));
    if state.wanted == Some(wanted) && !is_broken_off {
        state.is_new = false;
        match outcome {
            Ok(frame) => (state.latest, state.error) = (Some(frame), None),
            Err(error) => state.error = Some(error),
        }
        shared.changed.notify_all();
    }
}

fn neighbour(wanted: u32, by: u32, forward: bool, n_frames: u32) -> Option<u32> {
    if forward { wanted.checked_add(by).filter(|&number| number < n_frames) } else { wanted.checked_sub(by) }
}
