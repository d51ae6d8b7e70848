//! A frame as textures: never smoothed when enlarged, cut into tiles where a graphics adapter takes no more.

use super::fit::OnScreen;
use eframe::egui::{self, Color32, ColorImage, Painter, Rect, TextureHandle, TextureOptions, pos2};
use filmgauge_footage::Frame;
use filmgauge_quantities::{GreyPixels, GreyView};
use std::sync::Arc;

/// Largest side of a tile, px.
const TILE_PX: usize = 4096;
/// Pixels that are enlarged stay squares; a picture that is shrunk is averaged.
const OPTIONS: TextureOptions = TextureOptions {
    magnification: egui::TextureFilter::Nearest,
    minification: egui::TextureFilter::Linear,
    wrap_mode: egui::TextureWrapMode::ClampToEdge,
    mipmap_mode: None,
};

/// Shade of every grey level of a view.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Levels {
    /// -1 to 1.
    pub(crate) brightness: f32,
    /// -1 to 1.
    pub(crate) contrast: f32,
}

impl Levels {
    fn table(self) -> [Color32; 256] {
        let slope = (self.contrast.clamp(-1.0, 1.0) * 2.0).exp2();
        std::array::from_fn(|level| {
            let share = level as f32 / 255.0;
            let shown = (share - 0.5) * slope + 0.5 + self.brightness.clamp(-1.0, 1.0) * 0.5;
            Color32::from_gray((shown.clamp(0.0, 1.0) * 255.0).round() as u8)
        })
    }
}

/// A part of a view as a picture for the screen.
pub(crate) fn coloured(view: &GreyView<'_>, levels: Levels, [x, y, width, height]: [usize; 4]) -> ColorImage {
    let table = levels.table();
    let stride = view.stride();
    let down = view.bits().saturating_sub(8);
    let rows = (y..y + height).map(|row| row * stride + x);
    let pixels: Vec<Color32> = match view.pixels() {
        GreyPixels::Eight(samples) => rows
            .flat_map(|start| &samples[start..start + width])
            .map(|&level| table[usize::from(level)])
            .collect(),
        GreyPixels::Sixteen(samples) => rows
            .flat_map(|start| &samples[start..start + width])
            .map(|&level| table[usize::from(level >> down).min(255)])
            .collect(),
    };
    ColorImage::new([width, height], pixels)
}

/// Textures of the frame shown last.
#[derive(Default)]
pub(crate) struct Picture {
    made_of: Option<(Arc<Frame>, Levels)>,
    tiles: Vec<([usize; 4], TextureHandle)>,
    size: [usize; 2],
}

impl Picture {
    /// Makes this the frame that is shown.
    pub(crate) fn show(&mut self, ctx: &egui::Context, frame: &Arc<Frame>, levels: Levels) {
        let same = |(made, with): &(Arc<Frame>, Levels)| Arc::ptr_eq(made, frame) && *with == levels;
        if self.made_of.as_ref().is_some_and(same) {
            return;
        }
        let view = frame.picture.view();
        let side = TILE_PX.min(ctx.input(|input| input.max_texture_side)).max(64);
        let size = [view.width(), view.height()];
        let tiles = tiles(size, side);
        let fits = self.tiles.iter().map(|(tile, _)| *tile).eq(tiles.iter().copied());
        if !fits {
            self.tiles.clear();
        }
        for (n, tile) in tiles.into_iter().enumerate() {
            let image = coloured(&view, levels, tile);
            match self.tiles.get_mut(n) {
                Some((_, texture)) => texture.set(image, OPTIONS),
                None => self.tiles.push((tile, ctx.load_texture("film", image, OPTIONS))),
            }
        }
        self.size = size;
        self.made_of = Some((Arc::clone(frame), levels));
    }

    /// Width and height, px.
    pub(crate) fn size(&self) -> [usize; 2] {
        self.size
    }

    /// Paints it.
    pub(crate) fn paint(&self, painter: &Painter, on: &OnScreen) {
        let uv = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        for ([x, y, width, height], texture) in &self.tiles {
            let [x0, y0] = [*x as f64, *y as f64];
            let rect = on.rect_of([x0, y0, x0 + *width as f64, y0 + *height as f64]);
            painter.image(texture.id(), rect, uv, Color32::WHITE);
        }
    }
}

/// Left, top, width and height of the tiles.
fn tiles([width, height]: [usize; 2], side: usize) -> Vec<[usize; 4]> {
    let cuts = |length: usize| (0..length).step_by(side).map(move |at| (at, side.min(length - at)));
    cuts(height).flat_map(|(y, h)| cuts(width).map(move |(x, w)| [x, y, w, h])).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use filmgauge_quantities::GreyImage;

    #[test]
    fn tiles_cover_the_picture_once() {
        let tiles = tiles([1000, 130], 300);
        assert_eq!(tiles.len(), 4);
        assert_eq!(tiles.iter().map(|[_, _, w, h]| w * h).sum::<usize>(), 1000 * 130);
        assert_eq!(tiles[3], [900, 0, 100, 130]);
    }

    #[test]
    fn levels_change_the_view_and_twelve_bits_are_seen_whole() {
        let plain = Levels { brightness: 0.0, contrast: 0.0 };
        let image = GreyImage::from_u16(2, 1, 12, vec![0, 4095]).unwrap();
        let seen = coloured(&image.view(), plain, [0, 0, 2, 1]);
        assert_eq!(seen.pixels, [Color32::from_gray(0), Color32::from_gray(255)]);
        let brighter = coloured(&image.view(), Levels { brightness: 0.5, contrast: 0.0 }, [0, 0, 1, 1]);
        assert!(brighter.pixels[0].r() > 50);
    }
}
