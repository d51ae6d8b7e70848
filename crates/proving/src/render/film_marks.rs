//! What the film itself carries: timing lamp, perforations and border, specks and scratches, uneven brightness.

use super::canvas::Canvas;
use crate::clock::FrameClock;
use crate::flaws::Flaw;
use crate::lamp::lit_share;
use crate::scene::{CameraSetup, Lamp, Perforation};
use crate::view::{View, size};
use filmgauge_quantities::PixelPoint;

/// Paints the lamp as its light gathers over the exposure of row 0 at `mid_s`, which is that of frame `number`.
pub(super) fn lamp(canvas: &mut Canvas, camera: &CameraSetup, view: &View, clock: &FrameClock, number: f64) {
    let Some(lamp) = &camera.lamp else { return };
    let box_px = bounds(lamp.at_px, lamp.size_px);
    let displaced = number + lamp.displaced_frames;
    rectangle(canvas, view, box_px, camera.picture.spread_px, |row, film| {
        let lit = if lamp.running {
            running_share(lamp, clock, displaced, film.y)
        } else {
            let mid_s = clock.exposed_s(displaced) + row * camera.row_time_s;
            lit_share(lamp, mid_s - 0.5 * camera.exposure_s, mid_s + 0.5 * camera.exposure_s)
        };
        lamp.off_grey + (lamp.on_grey - lamp.off_grey) * lit
    });
}

/// Lit share of the time in which one row of film, one pixel high, passed the lamp.
fn running_share(lamp: &Lamp, clock: &FrameClock, displaced: f64, film_y: f64) -> f64 {
    let passed_s = |y: f64| clock.exposed_s(displaced + (y - lamp.at_px[1]) / lamp.size_px[1]);
    lit_share(lamp, passed_s(film_y - 0.5), passed_s(film_y + 0.5))
}

/// Paints holes and border.
pub(super) fn perforations(canvas: &mut Canvas, holes: &[Perforation], view: &View, spread_px: f64) {
    for hole in holes {
        rectangle(canvas, view, bounds(hole.at_px, hole.size_px), spread_px, |_, _| hole.grey);
    }
}

/// Paints specks and scratches.
pub(super) fn flaws(canvas: &mut Canvas, flaws: &[Flaw], grey: f64) {
    for flaw in flaws {
        let (low, high) = match *flaw {
            Flaw::Speck { at, radius_px } => {
                (at.moved(-radius_px, -radius_px), at.moved(radius_px, radius_px))
            }
            Flaw::Scratch { from, to, width_px } => (
                PixelPoint::new(from.x.min(to.x) - width_px, from.y),
                PixelPoint::new(from.x.max(to.x) + width_px, to.y),
            ),
        };
        each_pixel(canvas, [low.x, low.y, high.x, high.y], |_, at, level| {
            mixed(level, grey, flaw.cover(at));
        });
    }
}

/// Brightens or darkens the whole picture.
pub(super) fn level(canvas: &mut Canvas, level: f64) {
    #[expect(clippy::cast_possible_truncation, reason = "a share near 1")]
    let level = level as f32;
    for grey in &mut canvas.grey {
        *grey *= level;
    }
}

/// Paints a rectangle of the film, spread by the point spread and the pixel's own area. `grey` is asked for with the
/// stored row and the place on the film.
fn rectangle(
    canvas: &mut Canvas,
    view: &View,
    [left, top, right, bottom]: [f64; 4],
    spread_px: f64,
    grey: impl Fn(f64, PixelPoint) -> f64,
) {
    let reach = 6.0 * spread_px + 1.0;
    let corners = [(left, top), (right, top), (left, bottom), (right, bottom)]
        .map(|(x, y)| view.stored_from_film(PixelPoint::new(x, y)));
    let bounds =
        corners.iter().fold([f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY], |b, at| {
            [b[0].min(at.x), b[1].min(at.y), b[2].max(at.x), b[3].max(at.y)]
        });
    let around = [bounds[0] - reach, bounds[1] - reach, bounds[2] + reach, bounds[3] + reach];
    each_pixel(canvas, around, |row, at, level| {
        let film = view.film_from_stored(at);
        // Weave turns the pixel against the film by far less than a degree: its spread stays the same to second order.
        let across = covered(film.x - left, spread_px) - covered(film.x - right, spread_px);
        let along = covered(film.y - top, spread_px) - covered(film.y - bottom, spread_px);
        mixed(level, grey(row, film), across * along);
    });
}

/// Share of a pixel's light that comes from beyond an edge which lies `x` px before its centre: the Gaussian's
/// integral, averaged over the pixel's width (closed form).
fn covered(x: f64, spread_px: f64) -> f64 {
    let summed = |at: f64| {
        let z = at / spread_px;
        let normal = 0.5 * (1.0 + libm::erf(z * std::f64::consts::FRAC_1_SQRT_2));
        at * normal + spread_px * (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt()
    };
    summed(x + 0.5) - summed(x - 0.5)
}

fn bounds(at_px: [f64; 2], size_px: [f64; 2]) -> [f64; 4] {
    [at_px[0], at_px[1], at_px[0] + size_px[0], at_px[1] + size_px[1]]
}

/// Visits the pixels of a rectangle, a pixel of margin included, as far as they are in the picture.
fn each_pixel(canvas: &mut Canvas, around: [f64; 4], mut visit: impl FnMut(f64, PixelPoint, &mut f32)) {
    let within = |low: f64, high: f64, n: usize| {
        let most = size(n);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the picture")]
        ((low - 1.0).floor().clamp(0.0, most) as usize..(high + 2.0).ceil().clamp(0.0, most) as usize)
    };
    let columns = within(around[0], around[2], canvas.width);
    for row in within(around[1], around[3], canvas.height) {
        for column in columns.clone() {
            let at = PixelPoint::new(size(column), size(row));
            visit(size(row), at, &mut canvas.grey[row * canvas.width + column]);
        }
    }
}

fn mixed(level: &mut f32, grey: f64, cover: f64) {
    #[expect(clippy::cast_possible_truncation, reason = "grey levels")]
    {
        *level = (f64::from(*level) * (1.0 - cover) + grey * cover) as f32;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_edge_is_covered_from_nothing_to_all_and_half_at_itself() {
        assert!((covered(0.0, 0.65) - 0.5).abs() < 1e-12);
        assert!(covered(-6.0, 0.65).abs() < 1e-12 && (covered(6.0, 0.65) - 1.0).abs() < 1e-12);
        // A spread far below a pixel leaves the pixel's own area: linear over one pixel.
        assert!((covered(0.25, 1e-3) - 0.75).abs() < 1e-9);
    }
}
