//! Which pixels of a patch must not be used in a frame: saturated, or marked as hidden.

use super::columns::Points;
use super::ground::Ground;
use super::options::TextureOptions;
use super::place::TexturePlace;
use crate::blemish::BlemishMask;
use filmgauge_quantities::GreyView;

/// Pixels around a bad one whose interpolated neighbourhood it spoils.
const SPOILS_PX: i64 = 2;

/// The bad pixels of a ground, each widened by what interpolation spreads of it.
pub(super) struct Mask {
    bad: Vec<bool>,
}

impl Mask {
    /// `None` when no pixel is bad, which costs nothing to find out.
    pub(super) fn new(
        view: &GreyView,
        ground: &Ground,
        hidden: Option<&BlemishMask>,
        options: &TextureOptions,
    ) -> Option<Self> {
        let ceiling = options.saturation_share * f64::from(view.full_scale());
        if hidden.is_none() && f64::from(ground.brightest) + ground.base < ceiling - 1e-3 {
            return None;
        }
        let (width, height) = (ground.width as i64, ground.height as i64);
        let is_bad = |column: i64, row: i64| {
            let (x, y) = (ground.left + column, ground.top + row);
            let level =
                usize::try_from(x).ok().zip(usize::try_from(y).ok()).and_then(|(x, y)| view.get(x, y));
            level.is_some_and(|level| f64::from(level) >= ceiling)
                || hidden.is_some_and(|mask| is_marked(mask, x, y))
        };
        let mut bad = vec![false; ground.width * ground.height];
        for (row, column) in (0..height).flat_map(|row| (0..width).map(move |column| (row, column))) {
            if is_bad(column, row) {
                for y in (row - SPOILS_PX).max(0)..=(row + SPOILS_PX).min(height - 1) {
                    for x in (column - SPOILS_PX).max(0)..=(column + SPOILS_PX).min(width - 1) {
                        bad[usize::try_from(y * width + x).unwrap_or(0)] = true;
                    }
                }
            }
        }
        bad.contains(&true).then_some(Self { bad })
    }

    /// Which points of a patch at `place` are to be used.
    #[expect(clippy::cast_possible_truncation, reason = "places near a picture")]
    pub(super) fn keep(&self, ground: &Ground, points: &Points, place: &TexturePlace) -> Vec<bool> {
        let offsets = points.u.iter().zip(&points.v);
        offsets
            .map(|(u, v)| {
                let at = place.point(*u, *v);
                let column = usize::try_from(at.x.round() as i64 - ground.left).ok();
                let row = usize::try_from(at.y.round() as i64 - ground.top).ok();
                let (Some(column), Some(row)) = (column, row) else { return false };
                column < ground.width && row < ground.height && !self.bad[row * ground.width + column]
            })
            .collect()
    }
}

fn is_marked(mask: &BlemishMask, x: i64, y: i64) -> bool {
    let column = usize::try_from(x - mask.x0).ok().filter(|column| *column < mask.width);
    let row = usize::try_from(y - mask.y0).ok().filter(|row| *row < mask.height);
    column.zip(row).is_some_and(|(column, row)| mask.marked.get(row * mask.width + column) == Some(&true))
}
