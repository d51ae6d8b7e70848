//! How a picture lies in its place on the screen: whole, or zoomed about a point.

use eframe::egui::{Pos2, Rect, Vec2, pos2, vec2};

/// Least and greatest zoom, points of the screen a pixel.
const ZOOMS: std::ops::RangeInclusive<f32> = 0.02..=64.0;

/// Whole picture, or a zoom about a point that lies in the middle.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Fit {
    zoomed: Option<(f32, [f64; 2])>,
}

/// A picture on the screen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct OnScreen {
    /// Where the picture's place is.
    pub(crate) rect: Rect,
    /// Points of the screen a pixel.
    pub(crate) zoom: f32,
    /// Screen place of pixel (0, 0)'s centre.
    origin: Pos2,
}

impl Fit {
    /// The picture of this size in this place.
    pub(crate) fn on_screen(self, size: [usize; 2], rect: Rect) -> OnScreen {
        let [width, height] = size.map(|n| n.max(1) as f32);
        let (zoom, centre) = self.zoomed.unwrap_or_else(|| {
            let zoom = (rect.width() / width).min(rect.height() / height);
            (zoom, [f64::from(width - 1.0) / 2.0, f64::from(height - 1.0) / 2.0])
        });
        let zoom = zoom.clamp(*ZOOMS.start(), *ZOOMS.end());
        let origin = rect.center() - vec2(centre[0] as f32, centre[1] as f32) * zoom;
        OnScreen { rect, zoom, origin }
    }
}

impl OnScreen {
    /// Screen place of a pixel place.
    pub(crate) fn screen_from_px(&self, px: [f64; 2]) -> Pos2 {
        self.origin + vec2(px[0] as f32, px[1] as f32) * self.zoom
    }

    /// Pixel place of a screen place.
    pub(crate) fn px_from_screen(&self, at: Pos2) -> [f64; 2] {
        let step = (at - self.origin) / self.zoom;
        [f64::from(step.x), f64::from(step.y)]
    }

    /// The rectangle that pixels `x0..x1`, `y0..y1` cover.
    pub(crate) fn rect_of(&self, [x0, y0, x1, y1]: [f64; 4]) -> Rect {
        Rect::from_min_max(
            self.screen_from_px([x0 - 0.5, y0 - 0.5]),
            self.screen_from_px([x1 - 0.5, y1 - 0.5]),
        )
    }

    /// Zoomed by a factor about a screen place, which stays where it is.
    pub(crate) fn zoomed_about(&self, at: Pos2, factor: f32) -> Fit {
        let zoom = (self.zoom * factor).clamp(*ZOOMS.start(), *ZOOMS.end());
        let px = self.px_from_screen(at);
        let step = (self.rect.center() - at) / zoom;
        Fit { zoomed: Some((zoom, [px[0] + f64::from(step.x), px[1] + f64::from(step.y)])) }
    }

    /// Moved on the screen.
    pub(crate) fn moved(&self, by: Vec2) -> Fit {
        let centre = self.px_from_screen(self.rect.center() - by);
        Fit { zoomed: Some((self.zoom, centre)) }
    }

    /// Zoomed by a factor with a pixel place in the middle.
    pub(crate) fn centred_on(&self, px: [f64; 2], factor: f32) -> Fit {
        Fit { zoomed: Some(((self.zoom * factor).clamp(*ZOOMS.start(), *ZOOMS.end()), px)) }
    }
}

/// The whole place where nothing is drawn yet.
impl Default for OnScreen {
    fn default() -> Self {
        Self { rect: Rect::NOTHING, zoom: 1.0, origin: pos2(0.0, 0.0) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_of_the_picture_lies_in_the_middle_and_zoom_keeps_its_point() {
        let rect = Rect::from_min_size(pos2(100.0, 50.0), vec2(400.0, 300.0));
        let whole = Fit::default().on_screen([200, 100], rect);
        assert_eq!(whole.screen_from_px([99.5, 49.5]), rect.center());
        assert!((whole.zoom - 2.0).abs() < 1e-6);
        let at = pos2(180.0, 120.0);
        let before = whole.px_from_screen(at);
        let closer = whole.zoomed_about(at, 3.0).on_screen([200, 100], rect);
        let after = closer.px_from_screen(at);
        assert!((before[0] - after[0]).abs() < 1e-3 && (before[1] - after[1]).abs() < 1e-3);
        let moved = closer.moved(vec2(12.0, -6.0)).on_screen([200, 100], rect);
        let there = moved.px_from_screen(at + vec2(12.0, -6.0));
        assert!((there[0] - before[0]).abs() < 1e-3 && (there[1] - before[1]).abs() < 1e-3);
    }
}
