//! What is drawn over the film, each in a file of its own; all can be hidden one by one.

mod board;
mod found;
mod gaps;
mod grid;
mod hand;
mod in_hand;
mod live;
mod marks;
mod points;
mod regions;
mod starts;
mod straight_edges;
mod survey;
mod trails;

use super::fit::OnScreen;
use crate::session::Session;
use eframe::egui::Painter;
use filmgauge_quantities::PixelCov;
use filmgauge_results::MarkRow;
use std::f64::consts::TAU;

/// A film on the screen with all that an overlay needs.
pub(crate) struct OnFilm<'a> {
    /// What is looked at.
    pub(crate) session: &'a Session,
    /// Camera.
    pub(crate) camera: &'a str,
    /// Frame that is seen.
    pub(crate) frame: u32,
    /// Draws within the film's place.
    pub(crate) painter: &'a Painter,
    /// Where the pixels are.
    pub(crate) on: &'a OnScreen,
}

/// One kind of thing drawn over the film.
pub(crate) struct Overlay {
    /// Its name for people, as in "Show trails".
    pub(crate) name: &'static str,
    draw: fn(&OnFilm<'_>),
}

/// Name of the grid.
pub(crate) const GRID: &str = "grid of the plane";

/// All of them, in the order in which they are drawn.
pub(crate) const OVERLAYS: [Overlay; 14] = [
    Overlay { name: GRID, draw: grid::draw },
    Overlay { name: "trails", draw: trails::draw },
    Overlay { name: "points of bodies", draw: points::draw },
    Overlay { name: "board", draw: board::draw },
    Overlay { name: "surveyed points", draw: survey::draw },
    Overlay { name: "straight edges", draw: straight_edges::draw },
    Overlay { name: "regions", draw: regions::draw },
    Overlay { name: "starts", draw: starts::draw },
    Overlay { name: "gaps", draw: gaps::draw },
    Overlay { name: "marks", draw: marks::draw },
    Overlay { name: "marks as they come", draw: live::draw },
    Overlay { name: "marks by hand", draw: hand::draw },
    Overlay { name: "found targets", draw: found::draw },
    Overlay { name: "point in hand", draw: in_hand::draw },
];

/// Draws all that are not hidden.
pub(crate) fn draw(film: &OnFilm<'_>) {
    for overlay in OVERLAYS.iter().filter(|overlay| !film.session.view.hidden.contains(overlay.name)) {
        (overlay.draw)(film);
    }
}

/// Covariance of a mark, px².
pub(crate) fn cov_of(mark: &MarkRow) -> PixelCov {
    PixelCov { xx: mark.sx_px.powi(2), xy: mark.rxy * mark.sx_px * mark.sy_px, yy: mark.sy_px.powi(2) }
}

/// Points of the 95 % ellipse about a place, `scale` times as large as it is.
pub(crate) fn ellipse([x, y]: [f64; 2], cov: PixelCov, scale: f64) -> Vec<[f64; 2]> {
    const N_POINTS: usize = 48;
    /// 95 % of a normal distribution in two dimensions lies within this many standard deviations: √5.991.
    const RADIUS_95: f64 = 2.447_7;
    // The lower triangle of the covariance's square root carries a circle into the ellipse.
    let a = cov.xx.max(0.0).sqrt();
    let b = if a > 0.0 { cov.xy / a } else { 0.0 };
    let c = (cov.yy - b * b).max(0.0).sqrt();
    let at = |n: usize| {
        let (sin, cos) = (TAU * n as f64 / N_POINTS as f64).sin_cos();
        let (u, v) = (RADIUS_95 * scale * cos, RADIUS_95 * scale * sin);
        [x + a * u, y + b * u + c * v]
    };
    (0..N_POINTS).map(at).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_point_of_the_ellipse_has_the_same_mahalanobis_length() {
        let cov = PixelCov { xx: 4.0, xy: 1.5, yy: 1.0 };
        for [x, y] in ellipse([10.0, 20.0], cov, 1.0) {
            let length2 = cov.mahalanobis2(x - 10.0, y - 20.0).unwrap();
            assert!((length2 - 5.991).abs() < 0.01, "{length2}");
        }
    }
}
