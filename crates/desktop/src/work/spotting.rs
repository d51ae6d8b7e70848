//! Finding targets in a frame in the background.

use filmgauge_footage::Frame;
use filmgauge_targets::{Spot, SpotOptions, spot};
use std::sync::Arc;
use std::thread::JoinHandle;

/// Targets found in a frame, to be accepted or left out.
#[derive(Debug, Clone)]
pub(crate) struct Found {
    /// Camera.
    pub(crate) camera: String,
    /// Frame.
    pub(crate) frame: u32,
    /// What was found, best first.
    pub(crate) spots: Vec<Spot>,
}

/// A search that is under way.
pub(crate) struct Spotting {
    thread: Option<JoinHandle<Result<Found, String>>>,
}

impl Spotting {
    /// Begins to search `frame` of `camera`. `wake` is called when it is over.
    pub(crate) fn begin(camera: String, frame: Arc<Frame>, wake: impl FnOnce() + Send + 'static) -> Self {
        let thread = std::thread::spawn(move || {
            let spots = spot(&frame.picture.view(), &SpotOptions::default());
            wake();
            let spots = spots.map_err(|error| error.to_string())?;
            Ok(Found { camera, frame: frame.number.0, spots })
        });
        Self { thread: Some(thread) }
    }

    /// What was found, once, when it is over.
    pub(crate) fn outcome(&mut self) -> Option<Result<Found, String>> {
        let thread = self.thread.take_if(|thread| thread.is_finished())?;
        Some(
            thread
                .join()
                .unwrap_or_else(|_| Err("The search for targets broke off; nothing was changed.".into())),
        )
    }
}
