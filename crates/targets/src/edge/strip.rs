//! The pixels about an edge, turned so that the edge always runs along the rows' order, and a first guess of its place.

use super::{EdgeBox, EdgeFailure, EdgeRun, EdgeStep};
use filmgauge_quantities::GreyView;

/// Lines of pixels that an edge needs along itself.
const LEAST_LINES: usize = 4;

/// Grey levels across and along an edge.
pub(super) struct Strip {
    pub(super) run: EdgeRun,
    /// First pixel across and along.
    pub(super) first: (f64, f64),
    /// Greatest level that the picture can hold.
    pub(super) full_scale: f64,
    /// Pixels across.
    pub(super) width: usize,
    /// Lines along.
    pub(super) lines: usize,
    /// First and last pixel of a line that the edge is sought at; margin lies beyond.
    searched: (usize, usize),
    /// Line after line.
    grey: Vec<f64>,
}

impl Strip {
    /// Cuts the area with `reach_px` of margin across, as far as the picture goes: the fit sees to it that it has enough.
    pub(super) fn cut(
        view: &GreyView,
        area: &EdgeBox,
        run: EdgeRun,
        reach_px: f64,
    ) -> Result<Self, EdgeFailure> {
        let (across, along, sizes) = match run {
            EdgeRun::Upright => {
                ((area.left, area.right), (area.top, area.bottom), (view.width(), view.height()))
            }
            EdgeRun::Level => {
                ((area.top, area.bottom), (area.left, area.right), (view.height(), view.width()))
            }
        };
        if ![across.0, across.1, along.0, along.1, reach_px].iter().all(|side| side.is_finite()) {
            return Err(EdgeFailure::OutOfView);
        }
        let last = sizes.0 as f64 - 1.0;
        let clipped = |low: f64, high: f64| whole_range(low.max(0.0), high.min(last), sizes.0);
        let sought = clipped(across.0, across.1).ok_or(EdgeFailure::OutOfView)?;
        let (from, to) = clipped(across.0 - reach_px, across.1 + reach_px).ok_or(EdgeFailure::OutOfView)?;
        let (top, bottom) = whole_range(along.0, along.1, sizes.1).ok_or(EdgeFailure::OutOfView)?;
        let (width, lines) = (to - from + 1, bottom - top + 1);
        if lines < LEAST_LINES {
            return Err(EdgeFailure::TooShort { length_px: along.1 - along.0, least_px: LEAST_LINES });
        }
        let at = |u: usize, v: usize| match run {
            EdgeRun::Upright => view.get(u, v),
            EdgeRun::Level => view.get(v, u),
        };
        let grey = (top..=bottom).flat_map(|v| (from..=to).map(move |u| (u, v)));
        let grey = grey.map(|(u, v)| at(u, v).map_or(0.0, f64::from)).collect();
        let searched = (sought.0 - from, sought.1 - from);
        Ok(Self {
            run,
            first: (from as f64, top as f64),
            full_scale: f64::from(view.full_scale()),
            width,
            lines,
            searched,
            grey,
        })
    }

    pub(super) fn line(&self, line: usize) -> &[f64] {
        &self.grey[line * self.width..(line + 1) * self.width]
    }

    /// The place of the greatest step of the mean line that goes as said, to a pixel, across in the picture.
    pub(super) fn coarse(&self, step: EdgeStep) -> Option<f64> {
        let mean: Vec<f64> =
            (0..self.width).map(|u| (0..self.lines).map(|v| self.line(v)[u]).sum::<f64>()).collect();
        let rise = |u: usize| {
            let slope = mean[u + 1] - mean[u - 1];
            match step {
                EdgeStep::Brighter => slope,
                EdgeStep::Darker => -slope,
                EdgeStep::Either => slope.abs(),
            }
        };
        let searched = self.searched.0.max(1)..=self.searched.1.min(self.width.checked_sub(2)?);
        let best = searched.max_by(|&a, &b| rise(a).total_cmp(&rise(b)))?;
        (rise(best) > 0.0).then_some(self.first.0 + best as f64)
    }

    /// Noise of one pixel from the differences of neighbouring lines: their median, as for a normal law.
    /// Clipped pixels, which show none, are left out; 0 where nothing else is there.
    pub(super) fn noise(&self, columns: std::ops::RangeInclusive<usize>, ceiling: f64) -> f64 {
        let mut differences: Vec<f64> = (1..self.lines)
            .flat_map(|v| columns.clone().map(move |u| (u, v)))
            .map(|(u, v)| (self.line(v)[u], self.line(v - 1)[u]))
            .filter(|(a, b)| a.max(*b) < ceiling)
            .map(|(a, b)| (a - b).abs())
            .collect();
        if differences.is_empty() {
            return 0.0;
        }
        let middle = differences.len() / 2;
        let (_, median, _) = differences.select_nth_unstable_by(middle, f64::total_cmp);
        // 0.6745 is the upper quartile of the normal law; a difference of two pixels has twice the variance of one.
        *median / (0.6745 * std::f64::consts::SQRT_2)
    }
}

/// The whole pixels from `low` to `high`; none unless all are in the picture.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked to lie in the picture")]
fn whole_range(low: f64, high: f64, size: usize) -> Option<(usize, usize)> {
    let (low, high) = (low.ceil(), high.floor());
    let inside = low >= 0.0 && high >= low && high <= size as f64 - 1.0;
    inside.then_some((low as usize, high as usize))
}
