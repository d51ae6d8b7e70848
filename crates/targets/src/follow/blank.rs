//! Frames that show nothing at all: black, saturated or all of one grey. Said once for the frame, with what to do.

use super::options::FollowOptions;
use filmgauge_quantities::{FrameNumber, GapCause, GreyView};

/// Every so many pixels of every so many rows are looked at.
const STEP: usize = 8;

/// A frame whose levels all lie within this share of full scale shows nothing.
const FLAT_SHARE: f32 = 0.012;

/// Share of pixels at the ceiling from which a frame counts as saturated as a whole.
const SATURATED_SHARE: f64 = 0.98;

/// Cause and words for a frame in which nothing can be seen; `None` for any other.
pub(super) fn blank(
    frame: FrameNumber,
    view: &GreyView,
    options: &FollowOptions,
) -> Option<(GapCause, String)> {
    let full = view.full_scale();
    #[expect(clippy::cast_possible_truncation, reason = "a grey level")]
    let ceiling = options.locate.saturation_share as f32 * full;
    let (mut low, mut high, mut n, mut n_saturated) = (f32::INFINITY, f32::NEG_INFINITY, 0.0, 0.0);
    for y in (0..view.height()).step_by(STEP) {
        for x in (0..view.width()).step_by(STEP) {
            let level = view.get(x, y)?;
            (low, high) = (low.min(level), high.max(level));
            n += 1.0;
            n_saturated += f64::from(u8::from(level >= ceiling));
        }
    }
    if n_saturated >= SATURATED_SHARE * n {
        let why = format!("frame {frame} is saturated all over; expose less, or leave it out of the footage");
        return Some((GapCause::Flash, why));
    }
    if high - low > FLAT_SHARE * full {
        return None;
    }
    let what = if high < 0.05 * full { "black" } else { "all of one grey" };
    let why =
        format!("frame {frame} is {what}; look whether the film runs there, or leave it out of the footage");
    Some((GapCause::Hidden, why))
}
