//! Surveyed points and known lengths with their names.

use super::OnFilm;
use crate::look::{INK, Pen};
use eframe::egui::{Align2, Vec2};

/// Arm of a point's cross, points of the screen.
const ARM: f32 = 6.0;

pub(super) fn draw(film: &OnFilm<'_>) {
    let cameras = &film.session.document().camera;
    let Some(camera) = cameras.iter().find(|camera| camera.id == film.camera) else { return };
    let pen = Pen::new(film.painter, INK).wide(1.0);
    let plane = camera.plane.iter().flat_map(|plane| &plane.points).map(|point| (&point.name, point.px));
    let space = camera.pose.iter().flat_map(|pose| &pose.points).map(|point| (&point.name, point.px));
    for (name, px) in plane.chain(space) {
        let at = film.on.screen_from_px(px);
        pen.upright_cross(at, ARM);
        pen.words(at + Vec2::new(ARM, -ARM), Align2::LEFT_BOTTOM, name);
    }
    for length in &camera.length {
        let [from, to] = [length.from_px, length.to_px].map(|px| film.on.screen_from_px(px));
        pen.dashes(&[from, to]);
        let words = format!("{} {} m", length.name, length.length_m);
        pen.words(from + (to - from) * 0.5, Align2::CENTER_BOTTOM, &words);
    }
}
