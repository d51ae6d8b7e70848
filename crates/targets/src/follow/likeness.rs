//! Likeness to the start's picture: normalised correlation over the target's disc, whole pixels, in a gate.
//! The picture is always the start's; it is turned as the target turns, never taken anew.

use super::coarse::Coarse;
use super::recent::cut;
use crate::rings::between;
use filmgauge_quantities::{GreyView, PixelPoint};

/// Share of the target's radius that is compared.
pub(super) const DISC_SHARE: f64 = 0.95;

/// A likeness this far from the best, in target radii, counts as a second place.
const SECOND_PLACE_RADII: f64 = 0.7;

/// A coarse likeness may be this share of the least that is asked for: blocks lie across edges.
const COARSE_SHARE: f64 = 0.6;

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
    pub(super) rows: Vec<Row>,
    n_pixels: f32,
}

/// One row of the disc: zero-mean, unit-length samples.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) dy: i64,
    pub(super) from_dx: i64,
    pub(super) samples: Vec<f32>,
}

/// Where in the gate the likeness is greatest.
#[derive(Debug, Clone, Copy)]
pub(super) struct Peak {
    pub(super) place: PixelPoint,
    /// Correlation there, -1 to 1.
    pub(super) zncc: f64,
    /// Greatest correlation at least 0.7 radii away; 0 in a gate too small to hold one.
    pub(super) second: f64,
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
        let mut likeness =
            Self { start: centre, radius_px, cut, cut_at, turned_rad: 0.0, rows: Vec::new(), n_pixels: 0.0 };
        likeness.turn_to(0.0).then_some(likeness)
    }

    /// Turns the picture by `angle_rad` against the start; false when nothing but flat grey is left of it.
    #[expect(clippy::cast_possible_truncation, reason = "small whole offsets and single-precision levels")]
    pub(super) fn turn_to(&mut self, angle_rad: f64) -> bool {
        let radius_px = DISC_SHARE * self.radius_px;
        let (sin, cos) = angle_rad.sin_cos();
        let view = self.cut.view();
        let middle = self.start.moved(-(self.cut_at.0 as f64), -(self.cut_at.1 as f64));
        let mut rows = Vec::new();
        let reach = radius_px.floor() as i64;
        for dy in -reach..=reach {
            let half = (radius_px * radius_px - (dy * dy) as f64).max(0.0).sqrt().floor() as i64;
            let samples = (-half..=half).map(|dx| {
                let (ox, oy) = (dx as f64, dy as f64);
                let place = middle.moved(cos * ox + sin * oy, cos * oy - sin * ox);
                let x = place.x.clamp(0.0, view.width() as f64 - 1.0);
                let y = place.y.clamp(0.0, view.height() as f64 - 1.0);
                between(&view, x, y).unwrap_or(0.0) as f32
            });
            rows.push(Row { dy, from_dx: -half, samples: samples.collect() });
        }
        let Some(n) = normalise(&mut rows) else { return false };
        (self.rows, self.n_pixels, self.turned_rad) = (rows, n, angle_rad);
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
        let mut patch = view.patch(left - reach, top - reach, width, height)?;
        let mean = patch.grey.iter().map(|&level| f64::from(level)).sum::<f64>() / patch.grey.len() as f64;
        patch.grey.iter_mut().for_each(|level| *level -= mean as f32);
        let mut scores = Vec::new();
        for row in top..=bottom {
            for column in left..=right {
                let zncc = self.at(&patch.grey, width, (column - left + reach, row - top + reach));
                scores.push((column as f64, row as f64, zncc));
            }
        }
        best_of(&scores, SECOND_PLACE_RADII * self.radius_px)
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

    /// Correlation at a place of a patch.
    fn at(&self, grey: &[f32], width: usize, place: (i64, i64)) -> f64 {
        correlation(&self.rows, self.n_pixels, grey, width, place)
    }
}

/// Correlation of rows of samples with a patch around a place of it.
pub(super) fn correlation(
    rows: &[Row],
    n_pixels: f32,
    grey: &[f32],
    width: usize,
    (x, y): (i64, i64),
) -> f64 {
    let (mut sum, mut squares, mut product) = (0.0_f32, 0.0_f32, 0.0_f32);
    for row in rows {
        let from = (y + row.dy) * width as i64 + x + row.from_dx;
        let Ok(from) = usize::try_from(from) else { return 0.0 };
        let Some(levels) = grey.get(from..from + row.samples.len()) else { return 0.0 };
        let (s, q, p) = row_sums(levels, &row.samples);
        sum += s;
        squares += q;
        product += p;
    }
    let spread = squares - sum * sum / n_pixels;
    if spread > 1e-3 { f64::from(product / spread.sqrt()) } else { 0.0 }
}

/// Takes the mean off the samples and makes their length 1; their number, or `None` when they are flat.
#[expect(clippy::cast_possible_truncation, reason = "grey levels in single precision")]
pub(super) fn normalise(rows: &mut [Row]) -> Option<f32> {
    let levels = || rows.iter().flat_map(|row| row.samples.iter().map(|&level| f64::from(level)));
    let n = levels().count() as f64;
    let mean = levels().sum::<f64>() / n;
    let length = levels().map(|level| (level - mean).powi(2)).sum::<f64>().sqrt();
    if n < 1.0 || length < 1e-6 {
        return None;
    }
    for level in rows.iter_mut().flat_map(|row| &mut row.samples) {
        *level = ((f64::from(*level) - mean) / length) as f32;
    }
    Some(n as f32)
}

/// Sum, sum of squares and sum of products, in eight lanes so that the compiler can use wide registers.
fn row_sums(levels: &[f32], samples: &[f32]) -> (f32, f32, f32) {
    const LANES: usize = 8;
    let (mut s, mut q, mut p) = ([0.0_f32; LANES], [0.0_f32; LANES], [0.0_f32; LANES]);
    let (level_chunks, sample_chunks) = (levels.chunks_exact(LANES), samples.chunks_exact(LANES));
    let rest = level_chunks.remainder().iter().zip(sample_chunks.remainder());
    for (a, b) in level_chunks.zip(sample_chunks) {
        for k in 0..LANES {
            s[k] += a[k];
            q[k] += a[k] * a[k];
            p[k] += a[k] * b[k];
        }
    }
    for (k, (a, b)) in rest.enumerate() {
        s[k] += a;
        q[k] += a * a;
        p[k] += a * b;
    }
    (s.iter().sum(), q.iter().sum(), p.iter().sum())
}

fn best_of(scores: &[(f64, f64, f64)], apart_px: f64) -> Option<Peak> {
    let best = scores.iter().copied().reduce(|a, b| if b.2 > a.2 { b } else { a })?;
    let far = |score: &&(f64, f64, f64)| (score.0 - best.0).hypot(score.1 - best.1) >= apart_px;
    let second = scores.iter().filter(far).map(|score| score.2).fold(0.0, f64::max);
    Some(Peak { place: PixelPoint::new(best.0, best.1), zncc: best.2, second })
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
