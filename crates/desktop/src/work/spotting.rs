//! Finding targets in a frame in the background.

use filmgauge_dossier::{NamedSpot, named_spots, read_layout};
use filmgauge_footage::Frame;
use filmgauge_targets::{SpotOptions, spot};
use std::path::PathBuf;
use std::sync::Arc;
use std::thread::JoinHandle;

/// Targets found in a frame, to be accepted or left out.
#[derive(Debug, Clone)]
pub(crate) struct Found {
    /// Camera.
    pub(crate) camera: String,
    /// Frame.
    pub(crate) frame: u32,
    /// What was found, best first, each with the surveyed target that it seems to be.
    pub(crate) spots: Vec<NamedSpot>,
    /// Why the layout says nothing of them.
    pub(crate) unnamed: Option<String>,
}

/// A search that is under way.
pub(crate) struct Spotting {
    thread: Option<JoinHandle<Result<Found, String>>>,
}

impl Spotting {
    /// Begins to search `frame` of `camera`, and to name what is found by the layout in a file where one is given.
    /// `wake` is called when it is over.
    pub(crate) fn begin(
        camera: String,
        frame: Arc<Frame>,
        layout: Option<PathBuf>,
        wake: impl FnOnce() + Send + 'static,
    ) -> Self {
        let thread = std::thread::spawn(move || {
            let found = search(camera, &frame, layout);
            wake();
            found
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

fn search(camera: String, frame: &Frame, layout: Option<PathBuf>) -> Result<Found, String> {
    let (view, options) = (frame.picture.view(), SpotOptions::default());
    let (spots, unnamed) = match layout {
        Some(path) => {
            let layout = read_layout(&path).map_err(|error| error.to_string())?;
            let named = named_spots(&view, &options, &layout).map_err(|error| error.to_string())?;
            (named.spots, named.fit.err().map(|failure| failure.to_string()))
        }
        None => {
            let spots = spot(&view, &options).map_err(|error| error.to_string())?;
            (spots.into_iter().map(|spot| NamedSpot { spot, id: None }).collect(), None)
        }
    };
    Ok(Found { camera, frame: frame.number.0, spots, unnamed })
}
