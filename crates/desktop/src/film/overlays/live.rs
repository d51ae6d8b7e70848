//! Marks as they come while a measurement is under way: small squares, until the results have the last word.

use super::OnFilm;
use crate::look::{INK, Pen};
use eframe::egui::Vec2;

const HALF: f32 = 4.0;

pub(super) fn draw(film: &OnFilm<'_>) {
    let Some(measuring) = &film.session.measuring else { return };
    let pen = Pen::new(film.painter, INK);
    for (_, place) in measuring.live(film.camera, film.frame) {
        let at = film.on.screen_from_px(place);
        let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
        pen.loop_line(corners.map(|(x, y)| at + Vec2::new(x, y) * HALF).to_vec());
    }
}
