//! Marks as measured: a hair cross for one that was found, a dashed ring for one that was inferred.

use super::{OnFilm, cov_of, ellipse};
use crate::film::close_up::ELLIPSE_SCALE;
use crate::look::{CHOSEN, INFERRED, INK, Pen};
use eframe::egui::{Align2, Pos2, Vec2};
use filmgauge_results::MarkRow;

const ARM: f32 = 9.0;
/// From this zoom on ellipses are drawn, points a pixel.
const ELLIPSE_ZOOM: f32 = 6.0;

pub(super) fn draw(film: &OnFilm<'_>) {
    for (_, target) in film.session.targets_of(film.camera) {
        let Some(mark) = film.session.mark(film.camera, &target.id, film.frame) else { continue };
        let chosen = film.session.view.target.as_ref();
        let is_chosen = chosen.is_some_and(|it| it.camera == film.camera && it.target == target.id);
        let is_inferred = mark.state == "inferred";
        let ink = match (is_chosen, is_inferred) {
            (true, _) => CHOSEN,
            (false, true) => INFERRED,
            (false, false) => INK,
        };
        let pen = Pen::new(film.painter, ink);
        let at = film.on.screen_from_px([mark.x_px, mark.y_px]);
        if is_inferred {
            pen.dashed_ring(at, ARM);
        } else {
            pen.hair_cross(at, ARM);
        }
        if film.on.zoom >= ELLIPSE_ZOOM {
            pen.loop_line(outline(film, mark));
        }
        let doubt = if mark.trust < 0.5 { " ?" } else { "" };
        pen.words(at + Vec2::splat(ARM * 0.6), Align2::LEFT_TOP, &format!("{}{doubt}", target.id));
    }
}

fn outline(film: &OnFilm<'_>, mark: &MarkRow) -> Vec<Pos2> {
    let points = ellipse([mark.x_px, mark.y_px], cov_of(mark), ELLIPSE_SCALE);
    points.into_iter().map(|point| film.on.screen_from_px(point)).collect()
}
