//! Targets that have no mark in this frame, and why: named along the upper edge.

use super::OnFilm;
use crate::look::{INK, Pen};
use eframe::egui::{Align2, Vec2};

/// Lines at most.
const MOST_LINES: usize = 8;
const LINE_HEIGHT: f32 = 15.0;

pub(super) fn draw(film: &OnFilm<'_>) {
    let Some(measured) = &film.session.measured else { return };
    let gaps = measured.gaps(film.camera);
    let here: Vec<String> = gaps
        .filter(|gap| (gap.first_frame..=gap.last_frame).contains(&film.frame))
        .map(|gap| format!("{}: {}", gap.target, gap.cause))
        .collect();
    let pen = Pen::new(film.painter, INK);
    let corner = film.on.rect.left_top() + Vec2::new(8.0, 6.0);
    for (n, text) in here.iter().take(MOST_LINES).enumerate() {
        pen.words(corner + Vec2::new(0.0, LINE_HEIGHT * n as f32), Align2::LEFT_TOP, text);
    }
    if here.len() > MOST_LINES {
        let place = corner + Vec2::new(0.0, LINE_HEIGHT * MOST_LINES as f32);
        pen.words(place, Align2::LEFT_TOP, &format!("and {} more gaps", here.len() - MOST_LINES));
    }
}
