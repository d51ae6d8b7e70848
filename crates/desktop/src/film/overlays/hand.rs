//! Marks placed by hand in this frame.

use super::OnFilm;
use crate::look::{CHOSEN, Pen};
use eframe::egui::{Align2, Vec2};

const RADIUS: f32 = 9.0;

pub(super) fn draw(film: &OnFilm<'_>) {
    let picks = film.session.workbook.picks(film.camera);
    for pick in picks.iter().filter(|pick| pick.frame == film.frame) {
        let pen = Pen::new(film.painter, CHOSEN);
        let at = film.on.screen_from_px([pick.x_px, pick.y_px]);
        pen.lozenge(at, RADIUS);
        pen.words(at + Vec2::new(RADIUS, -RADIUS), Align2::LEFT_BOTTOM, &format!("{} by hand", pick.target));
    }
}
