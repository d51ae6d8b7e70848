//! The reference board with its length.

use super::OnFilm;
use crate::look::{INK, Pen};
use eframe::egui::{Align2, Vec2};

pub(super) fn draw(film: &OnFilm<'_>) {
    let cameras = &film.session.document().camera;
    let Some(board) = cameras.iter().find(|camera| camera.id == film.camera).and_then(|it| it.board.as_ref())
    else {
        return;
    };
    let [from, to] = [board.from_px, board.to_px].map(|px| film.on.screen_from_px(px));
    let pen = Pen::new(film.painter, INK);
    pen.line(&[from, to]);
    let across = (to - from).normalized().rot90() * 8.0;
    for end in [from, to] {
        pen.line(&[end - across, end + across]);
    }
    let place = from + (to - from) * 0.5 + Vec2::new(0.0, -6.0);
    pen.words(place, Align2::CENTER_BOTTOM, &format!("board {} m", board.length_m));
}
