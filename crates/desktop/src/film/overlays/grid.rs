//! The plane of motion as a grid of round metres; it is asked for, as it covers much of the picture.

use super::OnFilm;
use crate::look::{INK, Pen};
use eframe::egui::{Align2, Pos2};

pub(super) fn draw(film: &OnFilm<'_>) {
    let Some(grid) = film.session.drawing(film.camera).and_then(|drawing| drawing.grid.as_ref()) else {
        return;
    };
    let pen = Pen::new(film.painter, INK).wide(0.7);
    let seen = film.painter.clip_rect();
    for line in &grid.lines {
        let points: Vec<Pos2> = line.points.iter().map(|px| film.on.screen_from_px(*px)).collect();
        pen.line(&points);
        // Named where it enters what is seen of the film.
        if let Some(at) = points.iter().find(|at| seen.shrink(14.0).contains(**at)) {
            pen.words(*at, Align2::LEFT_BOTTOM, &line.label);
        }
    }
}
