//! Where targets start, in the frame in which they do, until there are marks.

use super::OnFilm;
use crate::look::{CHOSEN, INK, Pen};
use eframe::egui::{Align2, Vec2};

pub(super) fn draw(film: &OnFilm<'_>) {
    for (_, target) in film.session.targets_of(film.camera) {
        let is_here = target.start.frame == film.frame;
        if !is_here || film.session.mark(film.camera, &target.id, film.frame).is_some() {
            continue;
        }
        let chosen = film.session.view.target.as_ref();
        let is_chosen = chosen.is_some_and(|it| it.camera == film.camera && it.target == target.id);
        let pen = Pen::new(film.painter, if is_chosen { CHOSEN } else { INK });
        let at = film.on.screen_from_px(target.start.px);
        let radius = (target.radius_px as f32 * film.on.zoom).max(4.0);
        pen.circle(at, radius);
        pen.words(at + Vec2::splat(radius * 0.75), Align2::LEFT_TOP, &format!("{} start", target.id));
    }
}
