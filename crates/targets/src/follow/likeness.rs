//! Likeness to the start's picture: normalised correlation over the target's disc, whole pixels, in a gate.
//! The picture is always the start's; it is turned as the target turns, never taken anew.

use super::coarse::Coarse;
use super::gate::{Gate, Peak};
use super::pattern::{Field, Pattern};
use super::recent::cut;
use crate::rings::between;
use filmgauge_quantities::{GreyView, PixelPoint};

/// Share of the target's radius that is compared.
pub(super) const DISC_SHARE: f64 = 0.95;

/// A likeness this far from the best, in target radii, counts as a second place.
const SECOND_PLACE_RADII: f64 = 0.7;

/// A coarse likeness may be this share of the least that is asked for: blocks lie across edges.
const COARSE_SHARE: f64 = 0.6;

/// A likeness below this at the end of a climb is looked at again all over the gate.
const CLIMBED_ZNCC: f64 = 0.8;

/// The start's picture of one target, in which it is looked for.
#[derive(Debug, Clone)]
pub(super) struct Likeness {
    /// Place of the start's centre.
    start: PixelPoint,
    pub(super) radius_px: f64,
    /// Cut-out of the start's frame around the target, rows tight.
    cut: filmgauge_quantities::GreyImage,
    /// Column and row of the cut-out in its frame.
    cut_at: (i64, i64),
    /// By how much the samples below are turned against the start, rad.
    pub(super) turned_rad: f64,
    pub(super) pattern: Pattern,
}

impl Likeness {
    /// The picture of a target located at `centre`; `None` when it is flat.
    #[expect(clippy::cast_possible_truncation, reason = "the centre was located in the picture")]
    pub(super) fn new(view: &GreyView, centre: PixelPoint, radius_px: f64) -> Option<Self> {
        let half = radius_px.ceil() as i64 + 2;
        let (x, y) = (centre.x.round() as i64, centre.y.round() as i64);
        let cut_at = ((x - half).max(0), (y - half).max(0));
        let right = (x + half + 1).min(view.width() as i64);
        let bottom = (y + half + 1).min(view.height() as i64);
        let cut = cut(view, cut_at, right, bottom)?;
        let pattern = Pattern::default();
        let mut likeness = Self { start: centre, radius_px, cut, cut_at, turned_rad: 0.0, pattern };
        likeness.turn_to(0.0).then_some(likeness)
    }

    /// Turns the picture by `angle_rad` against the start; false when nothing but flat grey is left of it.
    #[expect(clippy::cast_possible_truncation, reason = "small whole offsets and single-precision levels")]
    pub(super) fn turn_to(&mut self, angle_rad: f64) -> bool {
        let radius_px = DISC_SHARE * self.radius_px;
        let (sin, cos) = angle_rad.sin_cos();
        let view = self.cut.view();
        let middle = self.start.moved(-(self.cut_at.0 as f64), -(self.cut_at.1 as f64));
        let reach = radius_px.floor() as i64;
        let rows = (-reach..=reach).map(|dy| {
            let half = (radius_px * radius_px - (dy * dy) as f64).max(0.0).sqrt().floor() as i64;
            let samples = (-half..=half).map(|dx| {
                let (ox, oy) = (dx as f64, dy as f64);
                let place = middle.moved(cos * ox + sin * oy, cos * oy - sin * ox);
                let x = place.x.clamp(0.0, view.width() as f64 - 1.0);
                let y = place.y.clamp(0.0, view.height() as f64 - 1.0);
                between(&view, x, y).unwrap_or(0.0) as f32
            });
            (dy, -half, samples.collect())
        });
        let Some(pattern) = Pattern::new(rows) else { return false };
        (self.pattern, self.turned_rad) = (pattern, angle_rad);
        true
    }

    /// The best place within `gate_px` of `near`, whole pixels; `None` when no place in the gate has the disc in view.
    #[expect(clippy::cast_possible_truncation, reason = "places near the picture and gates of some pixels")]
    pub(super) fn seek(&self, view: &GreyView, near: PixelPoint, gate_px: f64) -> Option<Peak> {
        let reach = (DISC_SHARE * self.radius_px).floor() as i64;
        let gate = gate_px.ceil() as i64;
        let (x, y) = (near.x.round() as i64, near.y.round() as i64);
        let left = (x - gate).max(reach);
        let top = (y - gate).max(reach);
        let right = (x + gate).min(view.width() as i64 - 1 - reach);
        let bottom = (y + gate).min(view.height() as i64 - 1 - reach);
        if left > right || top > bottom {
            return None;
        }
        let width = usize::try_from(right - left + 1 + 2 * reach).ok()?;
        let height = usize::try_from(bottom - top + 1 + 2 * reach).ok()?;
        let patch = view.patch(left - reach, top - reach, width, height)?;
        let field = Field::new(&patch.grey, width);
        let at = |column: i64, row: i64| {
            self.pattern.correlation(&field, (column - left + reach, row - top + reach))
        };
        let gate = Gate { left, top, right, bottom };
        // In a small gate there is no second place.
        let is_small = std::f64::consts::SQRT_2 * gate_px.ceil() < SECOND_PLACE_RADII * self.radius_px;
        let climbed = is_small.then(|| gate.climbed((x, y), at)).filter(|peak| peak.zncc >= CLIMBED_ZNCC);
        climbed.or_else(|| gate.searched(SECOND_PLACE_RADII * self.radius_px, at))
    }

    /// Places within `reach_px` of `near` that are alike by at least `least`, best first, at most `most` of them and
    /// 0.7 radii apart. A coarse look over blocks of pixels comes first, so a wide reach costs little.
    pub(super) fn places(
        &self,
        view: &GreyView,
        near: PixelPoint,
        reach_px: f64,
        (least, most): (f64, usize),
    ) -> Vec<Peak> {
        let apart_px = SECOND_PLACE_RADII * self.radius_px;
        let coarse = Coarse::of(self);
        let mut peaks: Vec<Peak> = coarse
            .peaks(view, near, reach_px, COARSE_SHARE * least, 3 * most, apart_px)
            .into_iter()
            .filter_map(|place| self.seek(view, place, coarse.block as f64 + 1.0))
            .filter(|peak| peak.zncc >= least)
            .collect();
        peaks.sort_by(|a, b| b.zncc.total_cmp(&a.zncc));
        let mut kept: Vec<Peak> = Vec::new();
        for peak in peaks {
            if kept.len() < most && kept.iter().all(|other| other.place.distance(peak.place) >= apart_px) {
                kept.push(Peak { second: 0.0, ..peak });
            }
        }
        kept
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::painted::{Canvas, Painted};

    #[test]
    fn the_best_place_is_the_target_even_when_turned_and_brighter() {
        let first = Painted::new(40.4, 38.7, 10.0);
        let start = Canvas::new(80, 80, |_, _| 100.0).paint(&first).eight(2.0, 1);
        let mut likeness = Likeness::new(&start.view(), first.centre, 10.0).unwrap();
        let mut later = Painted::new(43.2, 36.1, 10.0);
        later.angle_rad = first.angle_rad + 0.6;
        (later.dark, later.bright) = (80.0, 140.0);
        let frame = Canvas::new(80, 80, |_, _| 100.0).paint(&later).eight(2.0, 2);
        let near = PixelPoint::new(41.0, 38.0);
        let unturned = likeness.seek(&frame.view(), near, 5.0).unwrap();
        assert!(likeness.turn_to(0.6));
        let turned = likeness.seek(&frame.view(), near, 5.0).unwrap();
        assert!(turned.place.distance(later.centre) < 0.8, "{turned:?}");
        assert!(turned.zncc > 0.95 && unturned.zncc < 0.6, "{turned:?} {unturned:?}");
    }

    #[test]
    fn all_like_places_of_a_wide_reach_are_found() {
        let first = Painted::new(40.4, 38.7, 10.0);
        let start = Canvas::new(80, 80, |_, _| 100.0).paint(&first).eight(2.0, 1);
        let likeness = Likeness::new(&start.view(), first.centre, 10.0).unwrap();
        let truths = [(50.3, 60.8), (111.7, 58.2), (170.1, 30.6)];
        let mut canvas = Canvas::new(240, 120, crate::painted::uneven);
        for (x, y) in truths {
            canvas = canvas.paint(&Painted::new(x, y, 10.0));
        }
        let frame = canvas.eight(2.0, 2);
        let peaks = likeness.places(&frame.view(), PixelPoint::new(120.0, 60.0), 100.0, (0.8, 5));
        assert_eq!(peaks.len(), 3, "{peaks:?}");
        for (x, y) in truths {
            assert!(peaks.iter().any(|peak| peak.place.distance(PixelPoint::new(x, y)) < 0.8), "{peaks:?}");
        }
    }

    #[test]
    fn a_gate_outside_the_picture_has_no_place() {
        let target = Painted::new(40.4, 38.7, 10.0);
        let image = Canvas::new(80, 80, |_, _| 100.0).paint(&target).eight(2.0, 1);
        let likeness = Likeness::new(&image.view(), target.centre, 10.0).unwrap();
        assert!(likeness.seek(&image.view(), PixelPoint::new(-30.0, 40.0), 5.0).is_none());
        let flat = Canvas::new(80, 80, |_, _| 100.0).eight(0.0, 1);
        assert!(Likeness::new(&flat.view(), target.centre, 10.0).is_none());
        assert!(likeness.seek(&flat.view(), target.centre, 5.0).unwrap().zncc.abs() < 1e-9);
    }
}
