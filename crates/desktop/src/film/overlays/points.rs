//! The points that bodies are told by, such as a c.g., and the loose occupant, each with its way up to this frame.

use super::OnFilm;
use crate::look::{INFERRED, Pen};
use eframe::egui::{Align2, Pos2, Vec2};
use filmgauge_results::{FilmPath, PathKind};

/// Half the size of a point's sign, points of the screen.
const HALF_SIZE: f32 = 6.0;

pub(super) fn draw(film: &OnFilm<'_>) {
    let Some(drawing) = film.session.drawing(film.camera) else { return };
    for path in &drawing.paths {
        draw_path(film, path);
    }
}

fn draw_path(film: &OnFilm<'_>, path: &FilmPath) {
    let frame = film.frame as usize;
    let Some(here) = path.places.get(frame).copied().flatten() else { return };
    let pen = Pen::new(film.painter, INFERRED);
    let so_far = &path.places[..=frame];
    for run in so_far.split(Option::is_none) {
        let points: Vec<Pos2> = run.iter().flatten().map(|px| film.on.screen_from_px(*px)).collect();
        if points.len() > 1 {
            match path.kind {
                PathKind::BodyPoint => pen.line(&points),
                PathKind::Occupant => pen.dashes(&points),
            }
        }
    }
    let at = film.on.screen_from_px(here);
    match path.kind {
        PathKind::BodyPoint => pen.upright_cross(at, HALF_SIZE),
        PathKind::Occupant => pen.triangle(at, HALF_SIZE),
    }
    pen.words(at + Vec2::new(HALF_SIZE + 3.0, 0.0), Align2::LEFT_CENTER, &path.label);
}
