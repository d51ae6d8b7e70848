//! Regions that show the flash or hold the timing marks.

use super::OnFilm;
use crate::look::{INK, Pen};
use eframe::egui::Align2;
use filmgauge_dossier::document::ZeroEntry;

pub(super) fn draw(film: &OnFilm<'_>) {
    let cameras = &film.session.document().camera;
    let Some(camera) = cameras.iter().find(|camera| camera.id == film.camera) else { return };
    if let Some(ZeroEntry::Flash { region_px: Some(region), .. }) = &camera.zero {
        boxed(film, *region, "flash");
    }
    if let Some(marks) = camera.speed.as_ref().and_then(|speed| speed.marks.as_ref()) {
        boxed(film, marks.region_px, "timing marks");
    }
}

fn boxed(film: &OnFilm<'_>, region: [u32; 4], name: &str) {
    let [left, top, width, height] = region.map(f64::from);
    let rect = film.on.rect_of([left, top, left + width, top + height]);
    let pen = Pen::new(film.painter, INK);
    let corners = [rect.left_top(), rect.right_top(), rect.right_bottom(), rect.left_bottom()];
    pen.dashes(&[corners[0], corners[1], corners[2], corners[3], corners[0]]);
    pen.words(rect.left_top(), Align2::LEFT_BOTTOM, name);
}
