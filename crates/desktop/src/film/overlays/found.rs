//! Targets that were found in this frame and wait for a decision.

use super::OnFilm;
use crate::look::{CHOSEN, Pen};
use eframe::egui::{Align2, Vec2};

pub(super) fn draw(film: &OnFilm<'_>) {
    let Some(found) = &film.session.found else { return };
    if found.camera != film.camera || found.frame != film.frame {
        return;
    }
    let pen = Pen::new(film.painter, CHOSEN);
    for (n, spot) in found.spots.iter().enumerate() {
        let (id, spot) = (&spot.id, &spot.spot);
        let at = film.on.screen_from_px([spot.centre.x, spot.centre.y]);
        let radius = (spot.radius_px as f32 * film.on.zoom).max(5.0);
        pen.dashed_ring(at, radius);
        let name = id.as_ref().map_or_else(|| spot.kind.word().to_owned(), |id| format!("seems {id}"));
        let words = format!("{} {name}", n + 1);
        pen.words(at + Vec2::splat(radius * 0.75), Align2::LEFT_TOP, &words);
    }
}
