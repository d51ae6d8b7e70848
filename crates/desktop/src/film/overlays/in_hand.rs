//! What is being placed: points that are settled, the point in hand and what is fitted under it.

use super::OnFilm;
use crate::look::{CHOSEN, INK, Pen};
use crate::session::Purpose;

const ARM: f32 = 14.0;

pub(super) fn draw(film: &OnFilm<'_>) {
    let Some(placing) = &film.session.view.placing else { return };
    if film.camera != film.session.camera_id() {
        return;
    }
    let pen = Pen::new(film.painter, CHOSEN).wide(2.0);
    let settled: Vec<_> = placing.settled.iter().map(|taken| film.on.screen_from_px(taken.px)).collect();
    for at in &settled {
        pen.hair_cross(*at, ARM);
    }
    let Some(point) = placing.taken() else { return };
    let at = film.on.screen_from_px(point.px);
    pen.hair_cross(at, ARM);
    if let Some(Ok(fitted)) = placing.fitted.as_ref().filter(|_| !placing.as_pointed) {
        Pen::new(film.painter, INK).circle(film.on.screen_from_px(fitted.centre), ARM);
    }
    match (placing.purpose, settled.first()) {
        (Purpose::Board | Purpose::KnownLength | Purpose::StraightEdge, Some(first)) => {
            pen.dashes(&[*first, at]);
        }
        (Purpose::Flash | Purpose::TimingMarks, Some(first)) => {
            let corners = [*first, (at.x, first.y).into(), at, (first.x, at.y).into(), *first];
            pen.dashes(&corners);
        }
        _ => {}
    }
}
