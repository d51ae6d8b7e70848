//! Small cuts of the last frames around one target: all that is kept of the pictures, for the look back after a gap.

use super::options::FollowOptions;
use filmgauge_quantities::{FrameNumber, GreyImage, GreyView, PixelPoint};
use std::collections::VecDeque;

/// Room around a target that is seen, px.
const ROOM_PX: f64 = 6.0;

/// Room that every frame without a mark adds, px.
const ROOM_PER_MISS_PX: f64 = 1.5;

/// A piece of one frame.
#[derive(Debug, Clone)]
pub(super) struct Cut {
    pub(super) frame: FrameNumber,
    pub(super) picture: GreyImage,
    /// Column and row of its first pixel in the frame.
    pub(super) at: (f64, f64),
    pub(super) is_flash: bool,
}

/// The cuts of one target, oldest first, and the stretch that waits for its look back.
#[derive(Debug, Clone, Default)]
pub(super) struct Recent {
    pub(super) cuts: VecDeque<Cut>,
    /// First frame of a stretch of marks after a gap.
    pub(super) found_again: Option<FrameNumber>,
}

impl Recent {
    /// Keeps the surroundings of `place`: wider the longer the target has been missed.
    #[expect(clippy::cast_possible_truncation, reason = "places near the picture")]
    pub(super) fn keep(
        &mut self,
        (frame, view, is_flash): (FrameNumber, &GreyView, bool),
        (place, radius_px): (PixelPoint, f64),
        n_missed: u32,
        options: &FollowOptions,
    ) {
        let room = (ROOM_PX + ROOM_PER_MISS_PX * f64::from(n_missed)).min(options.greatest_gate_px + ROOM_PX);
        let half = radius_px + room;
        let left = ((place.x - half).floor() as i64).max(0);
        let top = ((place.y - half).floor() as i64).max(0);
        let right = ((place.x + half).ceil() as i64 + 1).min(view.width() as i64);
        let bottom = ((place.y + half).ceil() as i64 + 1).min(view.height() as i64);
        if let Some(picture) = cut(view, (left, top), right, bottom) {
            self.cuts.push_back(Cut { frame, picture, at: (left as f64, top as f64), is_flash });
        }
        while self.cuts.len() > options.recent_frames as usize {
            self.cuts.pop_front();
        }
    }
}

/// A copy of the columns and rows from `at` up to, not including, `right` and `bottom`.
pub(super) fn cut(view: &GreyView, at: (i64, i64), right: i64, bottom: i64) -> Option<GreyImage> {
    let width = usize::try_from(right - at.0).ok()?;
    let height = usize::try_from(bottom - at.1).ok()?;
    view.cut(usize::try_from(at.0).ok()?, usize::try_from(at.1).ok()?, width, height)
}
