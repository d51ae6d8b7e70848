//! Straight edges shown for the lens, and where points along them were located.

use super::OnFilm;
use crate::look::{INK, Pen};
use eframe::egui::{Align2, Vec2};
use filmgauge_dossier::lens::LensCalibration;

/// Arm of a located point's cross, points of the screen.
const ARM: f32 = 2.5;

pub(super) fn draw(film: &OnFilm<'_>) {
    let Some(shown) = film.session.view.lens_edges.get(film.camera) else { return };
    if shown.frame != film.frame {
        return;
    }
    let pen = Pen::new(film.painter, INK).wide(1.0);
    for (n, ends) in shown.ends.iter().enumerate() {
        let [from, to] = ends.map(|px| film.on.screen_from_px(px));
        pen.dashes(&[from, to]);
        let words = format!("edge {}", n + 1);
        pen.words(from + (to - from) * 0.5 + Vec2::new(0.0, -4.0), Align2::CENTER_BOTTOM, &words);
    }
    let calibrated = film.session.calibrated.as_ref().filter(|it| it.camera == film.camera);
    let Some(LensCalibration::Edges(found)) = calibrated.map(|it| &it.calibration) else { return };
    for at in found.edges.iter().flat_map(|edge| &edge.points) {
        pen.upright_cross(film.on.screen_from_px([at.x, at.y]), ARM);
    }
}
