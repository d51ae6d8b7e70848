//! The plane of motion as a grid of round metres, for drawing over the film.

use filmgauge_geometry::PlaneMap;
use filmgauge_quantities::{Length, PixelCov, PixelPoint, PlanePoint};
use filmgauge_results::{GridLine, PlaneGrid};

/// Lines that the longer side of the picture has about.
const N_LINES: f64 = 8.0;
/// Points of a line: enough to show a lens' bend.
const N_POINTS: u32 = 24;
/// Points along each side of the picture from which the visible part of the plane is told.
const N_SIDE: u32 = 8;

/// The grid of the board's plane in a picture of this size, px; `None` where the plane cannot be seen.
pub(super) fn grid(map: &PlaneMap, width: f64, height: f64) -> Option<PlaneGrid> {
    let seen = visible(map, width, height);
    let range = |of: fn(&PlanePoint) -> f64| {
        let least = seen.iter().map(of).fold(f64::INFINITY, f64::min);
        let most = seen.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
        (most > least).then_some([least, most])
    };
    let (x, z) = (range(|point| point.x_m)?, range(|point| point.z_m)?);
    let step_m = round_step((x[1] - x[0]).max(z[1] - z[0]) / N_LINES);
    let mut lines = Vec::new();
    for at in multiples(x, step_m) {
        lines.push(line(map, format!("x {at} m"), |share| PlanePoint::new(at, between(z, share))));
    }
    for at in multiples(z, step_m) {
        lines.push(line(map, format!("z {at} m"), |share| PlanePoint::new(between(x, share), at)));
    }
    Some(PlaneGrid { step_m, lines: lines.into_iter().filter(|line| line.points.len() > 1).collect() })
}

/// Plane points of the picture's rim.
fn visible(map: &PlaneMap, width: f64, height: f64) -> Vec<PlanePoint> {
    let mut rim = Vec::new();
    for n in 0..=N_SIDE {
        let share = f64::from(n) / f64::from(N_SIDE);
        let (x, y) = (share * (width - 1.0), share * (height - 1.0));
        rim.extend([[x, 0.0], [x, height - 1.0], [0.0, y], [width - 1.0, y]]);
    }
    let no_cov = PixelCov::default();
    let on_plane =
        |[x, y]: [f64; 2]| map.plane_from_image(PixelPoint::new(x, y), &no_cov, Length::from_m(0.0)).ok();
    rim.into_iter().filter_map(on_plane).map(|(point, _)| point).collect()
}

fn line(map: &PlaneMap, label: String, at: impl Fn(f64) -> PlanePoint) -> GridLine {
    let share = |n: u32| f64::from(n) / f64::from(N_POINTS - 1);
    let place = |n: u32| map.image_from_plane(at(share(n)), Length::from_m(0.0)).ok();
    let points = (0..N_POINTS).filter_map(place).map(|place| [place.x, place.y]).collect();
    GridLine { label, points }
}

fn between([from, to]: [f64; 2], share: f64) -> f64 {
    from + share * (to - from)
}

/// The nearest of 1, 2, 5, 10 … times a power of ten that is not below `wanted`.
fn round_step(wanted: f64) -> f64 {
    let power = 10.0_f64.powf(wanted.log10().floor());
    let factor = [1.0, 2.0, 5.0].into_iter().find(|factor| factor * power >= wanted * (1.0 - 1e-9));
    factor.unwrap_or(10.0) * power
}

/// Multiples of the step within a range, each a clean decimal.
fn multiples([from, to]: [f64; 2], step: f64) -> Vec<f64> {
    let mut at = (from / step).ceil();
    let mut found = Vec::new();
    while at * step <= to {
        // Division by the inverse keeps 0.1 × 3 from showing as 0.30000000000000004.
        found.push(if step < 1.0 { at / (1.0 / step).round() } else { at * step });
        at += 1.0;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::{multiples, round_step};

    #[test]
    fn steps_are_round() {
        for (wanted, step) in [(0.07, 0.1), (0.11, 0.2), (0.2, 0.2), (0.3, 0.5), (0.6, 1.0), (3.0, 5.0)] {
            assert!((round_step(wanted) - step).abs() < 1e-12, "{wanted}");
        }
        assert_eq!(multiples([-0.25, 0.45], 0.1), [-0.2, -0.1, 0.0, 0.1, 0.2, 0.3, 0.4]);
        assert_eq!(multiples([3.0, 11.0], 5.0), [5.0, 10.0]);
    }
}
