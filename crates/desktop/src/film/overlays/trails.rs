//! Where each target was in the frames before and after this one.

use super::OnFilm;
use crate::look::{CHOSEN, INK, Pen};
use eframe::egui::Pos2;

/// Frames before and after that are drawn; the chosen target's trail is drawn whole.
const REACH_FRAMES: u32 = 60;

/// A break of more frames than this is a gap in the trail.
const MOST_STEP: u32 = 1;

pub(super) fn draw(film: &OnFilm<'_>) {
    let Some(measured) = &film.session.measured else { return };
    for (_, target) in film.session.targets_of(film.camera) {
        let chosen = film.session.view.target.as_ref();
        let is_chosen = chosen.is_some_and(|it| it.camera == film.camera && it.target == target.id);
        let reach = if is_chosen { u32::MAX } else { REACH_FRAMES };
        let near = film.frame.saturating_sub(reach)..=film.frame.saturating_add(reach);
        let rows = measured.marks(film.camera, &target.id);
        let rows: Vec<_> = rows.iter().filter(|mark| near.contains(&mark.frame)).collect();
        let pen = Pen::new(film.painter, if is_chosen { CHOSEN } else { INK }).wide(1.0);
        for run in rows.chunk_by(|a, b| b.frame - a.frame <= MOST_STEP) {
            let points: Vec<Pos2> =
                run.iter().map(|mark| film.on.screen_from_px([mark.x_px, mark.y_px])).collect();
            pen.line(&thinned(points));
        }
    }
}

/// Leaves out points that lie on the one before.
fn thinned(points: Vec<Pos2>) -> Vec<Pos2> {
    let mut kept: Vec<Pos2> = Vec::with_capacity(points.len());
    for point in points {
        if kept.last().is_none_or(|last| last.distance(point) >= 1.0) {
            kept.push(point);
        }
    }
    kept
}
