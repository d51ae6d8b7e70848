//! The film: fetched by frame, shown pixel by pixel, with what is known drawn over it.

mod bar;
mod close_up;
mod fit;
mod overlays;
mod pane;
mod picture;
mod reel;

pub(crate) use bar::{seen, show as bar};
pub(crate) use close_up::show as close_up;
pub(crate) use fit::Fit;
pub(crate) use overlays::{GRID, OVERLAYS};
pub(crate) use pane::{show, told};
pub(crate) use reel::{Reel, ReelState};

use close_up::CloseUp;
use picture::Picture;
use std::collections::BTreeMap;

/// Textures of what is on the screen.
#[derive(Default)]
pub(crate) struct Screen {
    pictures: BTreeMap<String, Picture>,
    close_up: CloseUp,
}
