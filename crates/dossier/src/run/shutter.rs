//! Rolling shutter: a mark is carried from the instant its row was exposed to the frame's own time.

use filmgauge_quantities::{PixelCov, PixelPoint};
use filmgauge_timing::{RollingShutter, row_time_s};
use nalgebra::{Matrix3, Vector3};

/// Frames on each side that the local path is fitted to: long enough to average marks, short against the motion.
const HALF_WINDOW: usize = 5;
/// Fewest marks of a local path: a parabola and a little to spare.
const FEWEST: usize = 5;

/// A mark in the picture.
pub(super) type ImageMark = (PixelPoint, PixelCov);

/// Carries every mark of one target to its frame's time, along a local parabola of its path.
///
/// A mark at row r was exposed `r row_s` after row 0, whose mid-exposure is the frame's time. Where too few neighbours
/// are marked the mark is dropped: at its own place it would belong to another instant.
pub(super) fn at_frame_time(
    marks: &[Option<ImageMark>],
    times_s: &[f64],
    shutter: RollingShutter,
) -> Vec<Option<ImageMark>> {
    (0..marks.len()).map(|frame| carried(marks, times_s, shutter, frame)).collect()
}

fn carried(
    marks: &[Option<ImageMark>],
    times_s: &[f64],
    shutter: RollingShutter,
    frame: usize,
) -> Option<ImageMark> {
    let (point, cov) = marks[frame]?;
    let from = frame.saturating_sub(HALF_WINDOW);
    let to = (frame + HALF_WINDOW + 1).min(marks.len());
    let exposed_s = |at: usize, mark: &ImageMark| times_s[at] + row_time_s(mark.0.y, shutter);
    let own_s = exposed_s(frame, &(point, cov));
    let near: Vec<(f64, PixelPoint)> = (from..to)
        .filter_map(|at| marks[at].as_ref().map(|mark| (exposed_s(at, mark) - own_s, mark.0)))
        .collect();
    if near.len() < FEWEST {
        return None;
    }
    let back_s = times_s[frame] - own_s;
    let step = |of: fn(&PixelPoint) -> f64| parabola_step(&near, of, back_s);
    let (dx, gain) = step(|point| point.x)?;
    let (dy, _) = step(|point| point.y)?;
    // The step's own noise: that of the marks about, taken to be as good as this one.
    let widened = 1.0 + gain;
    let cov = PixelCov { xx: cov.xx * widened, xy: cov.xy * widened, yy: cov.yy * widened };
    Some((PixelPoint::new(point.x + dx, point.y + dy), cov))
}

/// Change of a least-squares parabola from 0 to `at_s`, and the variance of that change over the variance of a mark.
fn parabola_step(near: &[(f64, PixelPoint)], of: fn(&PixelPoint) -> f64, at_s: f64) -> Option<(f64, f64)> {
    let scale_s = near.iter().map(|(time_s, _)| time_s.abs()).fold(0.0, f64::max);
    let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
    for (time_s, point) in near {
        let t = time_s / scale_s;
        let row = Vector3::new(1.0, t, t * t);
        normal += row * row.transpose();
        right += row * of(point);
    }
    let inverse = normal.try_inverse()?;
    let t = at_s / scale_s;
    let step = Vector3::new(0.0, t, t * t);
    let (change, gain) = (step.dot(&(inverse * right)), step.dot(&(inverse * step)));
    (change.is_finite() && gain.is_finite()).then_some((change, gain))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_rows_of_one_body_stand_above_each_other() {
        // checks: 1080 rows in 8.33 ms, 27.778 m/s, rows 300 apart: skew 2.3139 ms, 64.27 mm (computed from v r t_row).
        let shutter = RollingShutter { row_s: 8.33e-3 / 1080.0, row_u_s: 0.0 };
        let px_per_m = 400.0;
        let times_s: Vec<f64> = (0..40).map(|frame| f64::from(frame) * 1e-2).collect();
        let cov = PixelCov { xx: 1e-4, xy: 0.0, yy: 1e-4 };
        let seen = |row: f64| -> Vec<Option<ImageMark>> {
            let x = |time_s: f64| px_per_m * (27.778 * time_s - 0.5 * 150.0 * time_s * time_s);
            let at = |time_s: &f64| Some((PixelPoint::new(x(time_s + row_time_s(row, shutter)), row), cov));
            times_s.iter().map(at).collect()
        };
        let (upper, lower) = (seen(100.0), seen(400.0));
        let raw_m = (lower[0].unwrap().0.x - upper[0].unwrap().0.x) / px_per_m;
        assert!((raw_m - 0.064_27).abs() < 1e-3, "{raw_m}");
        let [upper, lower] = [upper, lower].map(|marks| at_frame_time(&marks, &times_s, shutter));
        for (upper, lower) in upper.iter().zip(&lower) {
            let apart_px = lower.unwrap().0.x - upper.unwrap().0.x;
            assert!(apart_px.abs() < 1e-6, "{apart_px}");
        }
    }
}
