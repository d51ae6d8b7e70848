//! Marks placed by hand in this frame; those of other operators dashed, with their name, for comparing.

use super::OnFilm;
use crate::look::{CHOSEN, INK, Pen};
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
    for (operator, picks) in film.session.workbook.others_picks(film.camera) {
        for pick in picks.iter().filter(|pick| pick.frame == film.frame) {
            let pen = Pen::new(film.painter, INK);
            let at = film.on.screen_from_px([pick.x_px, pick.y_px]);
            pen.dashed_lozenge(at, RADIUS);
            let words = format!("{} by {operator}", pick.target);
            pen.words(at + Vec2::new(RADIUS, RADIUS), Align2::LEFT_TOP, &words);
        }
    }
}
