//! Colours, strokes and small shapes of the desk. Nothing is told by colour alone: shape, dash or a word goes with it.

use eframe::egui::epaint::PathStroke;
use eframe::egui::{self, Align2, Color32, FontId, Painter, Pos2, Shape, Stroke, Theme, Vec2};
use std::f32::consts::TAU;

/// Okabe and Ito's colours, which people with colour-blindness can tell apart (Color Universal Design, 2008), without
/// yellow and black, which one of the two grounds swallows.
pub(crate) const SERIES: [Color32; 6] = [
    Color32::from_rgb(0, 114, 178),
    Color32::from_rgb(213, 94, 0),
    Color32::from_rgb(0, 158, 115),
    Color32::from_rgb(204, 121, 167),
    Color32::from_rgb(86, 180, 233),
    Color32::from_rgb(230, 159, 0),
];

/// Ink over the film, with a dark rim around it, so that it is read on white paint and in shadow alike.
pub(crate) const INK: Color32 = Color32::from_rgb(240, 228, 66);
/// Ink of what is chosen or in hand.
pub(crate) const CHOSEN: Color32 = Color32::from_rgb(86, 210, 255);
/// Ink of what was computed, not seen.
pub(crate) const INFERRED: Color32 = Color32::from_rgb(240, 160, 210);
const RIM: Color32 = Color32::from_rgba_premultiplied(0, 0, 0, 170);
const TEXT_PT: f32 = 12.0;
/// Colour of text on the dark and on the light ground: a contrast of more than 10 to 1 (WCAG 2.2, 1.4.6 asks for 7).
const DARK_INK: Color32 = Color32::from_gray(215);
const LIGHT_INK: Color32 = Color32::from_gray(40);
/// Smallest height of anything to press, points.
const LEAST_HEIGHT: f32 = 24.0;

/// The n-th series' colour.
pub(crate) fn series(n: usize) -> Color32 {
    SERIES[n % SERIES.len()]
}

/// Sets spacing and looks that both themes share.
pub(crate) fn set_up(ctx: &egui::Context) {
    ctx.all_styles_mut(|style| {
        style.spacing.item_spacing = Vec2::new(8.0, 5.0);
        style.spacing.interact_size.y = LEAST_HEIGHT;
        style.animation_time = 0.0;
        style.url_in_tooltip = false;
    });
    for (theme, ink) in [(Theme::Dark, DARK_INK), (Theme::Light, LIGHT_INK)] {
        ctx.style_mut_of(theme, |style| style.visuals.widgets.noninteractive.fg_stroke.color = ink);
    }
}

/// Draws over the film.
pub(crate) struct Pen<'a> {
    painter: &'a Painter,
    ink: Color32,
    width: f32,
}

impl<'a> Pen<'a> {
    /// A pen with an ink.
    pub(crate) fn new(painter: &'a Painter, ink: Color32) -> Self {
        Self { painter, ink, width: 1.5 }
    }

    /// The same, this wide, points.
    pub(crate) fn wide(self, width: f32) -> Self {
        Self { width, ..self }
    }

    fn rim(&self) -> Stroke {
        Stroke::new(self.width + 2.0, RIM)
    }

    fn stroke(&self) -> Stroke {
        Stroke::new(self.width, self.ink)
    }

    /// A line through points.
    pub(crate) fn line(&self, points: &[Pos2]) {
        self.painter.add(Shape::line(points.to_vec(), PathStroke::from(self.rim())));
        self.painter.add(Shape::line(points.to_vec(), PathStroke::from(self.stroke())));
    }

    /// A dashed line.
    pub(crate) fn dashes(&self, points: &[Pos2]) {
        self.painter.extend(Shape::dashed_line(points, self.rim(), 6.0, 4.0));
        self.painter.extend(Shape::dashed_line(points, self.stroke(), 6.0, 4.0));
    }

    /// A closed line.
    pub(crate) fn loop_line(&self, points: Vec<Pos2>) {
        self.painter.add(Shape::closed_line(points.clone(), PathStroke::from(self.rim())));
        self.painter.add(Shape::closed_line(points, PathStroke::from(self.stroke())));
    }

    /// A circle.
    pub(crate) fn circle(&self, centre: Pos2, radius: f32) {
        self.painter.circle_stroke(centre, radius, self.rim());
        self.painter.circle_stroke(centre, radius, self.stroke());
    }

    /// A dashed circle.
    pub(crate) fn dashed_ring(&self, centre: Pos2, radius: f32) {
        const N: u16 = 36;
        let at = |n: u16| centre + Vec2::angled(TAU * f32::from(n) / f32::from(N)) * radius;
        self.dashes(&(0..=N).map(at).collect::<Vec<_>>());
    }

    /// Two short lines that cross, open in the middle so that what is under them stays visible.
    pub(crate) fn hair_cross(&self, centre: Pos2, arm: f32) {
        let gap = (arm * 0.25).max(2.0);
        for (x, y) in [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)] {
            let along = Vec2::new(x, y);
            self.line(&[centre + along * gap, centre + along * arm]);
        }
    }

    /// An upright cross through the point.
    pub(crate) fn upright_cross(&self, centre: Pos2, arm: f32) {
        for along in [Vec2::X, Vec2::Y] {
            self.line(&[centre - along * arm, centre + along * arm]);
        }
    }

    /// A triangle standing on its base.
    pub(crate) fn triangle(&self, centre: Pos2, radius: f32) {
        let corners = [(0.0, -1.0), (0.9, 0.7), (-0.9, 0.7)];
        self.loop_line(corners.map(|(x, y)| centre + Vec2::new(x, y) * radius).to_vec());
    }

    /// A square standing on a corner: a mark by hand.
    pub(crate) fn lozenge(&self, centre: Pos2, radius: f32) {
        let corners = [(0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)];
        self.loop_line(corners.map(|(x, y)| centre + Vec2::new(x, y) * radius).to_vec());
    }

    /// A dashed one: another operator's mark by hand.
    pub(crate) fn dashed_lozenge(&self, centre: Pos2, radius: f32) {
        let corners = [(0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)];
        self.dashes(&corners.map(|(x, y)| centre + Vec2::new(x, y) * radius));
    }

    /// Words with a rim.
    pub(crate) fn words(&self, at: Pos2, align: Align2, text: &str) {
        let font = FontId::proportional(TEXT_PT);
        for (x, y) in [(1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)] {
            self.painter.text(at + Vec2::new(x, y), align, text, font.clone(), RIM);
        }
        self.painter.text(at, align, text, font, self.ink);
    }
}
