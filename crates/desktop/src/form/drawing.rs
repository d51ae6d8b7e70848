//! A drawing of the report on the screen: the same as on the sheet, as pixels on its own paper.

use eframe::egui::{
    self, ColorImage, FontDefinitions, Id, Image, Role, TextureHandle, TextureOptions, Ui, WidgetInfo,
};
use filmgauge_report::Rasterer;
use std::sync::Arc;

/// Pixels a unit of the drawing: sharp on screens of twice the usual density too.
const SCALE: f32 = 2.0;

/// A drawing that was made into pixels, and of what.
#[derive(Clone)]
struct Made {
    svg: Arc<str>,
    texture: TextureHandle,
}

/// Shows a drawing as wide as there is room; `told` says what it shows to those who do not see it. `place` tells several
/// drawings of one line apart.
pub(super) fn show(ui: &mut Ui, place: &str, svg: &str, told: &str) {
    let id = ui.make_persistent_id(("drawing", place));
    let known: Option<Made> = ui.data(|data| data.get_temp(id));
    let made = match known.filter(|made| *made.svg == *svg) {
        Some(made) => made,
        None => match drawn(ui.ctx(), svg) {
            Ok(texture) => Made { svg: svg.into(), texture },
            Err(text) => {
                ui.label(text);
                return;
            }
        },
    };
    let size = made.texture.size_vec2() / SCALE;
    let width = ui.available_width().min(size.x);
    let response = ui.add(Image::new((made.texture.id(), size * (width / size.x))));
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, told));
    ui.data_mut(|data| data.insert_temp(id, made));
}

fn drawn(ctx: &egui::Context, svg: &str) -> Result<TextureHandle, String> {
    let pixels = rasterer(ctx).pixels(svg, SCALE).map_err(|error| error.to_string())?;
    let image =
        ColorImage::from_rgba_unmultiplied([pixels.width as usize, pixels.height as usize], &pixels.rgba);
    Ok(ctx.load_texture("drawing", image, TextureOptions::LINEAR))
}

/// With the desk's own letters, so that a drawing looks alike on every machine.
fn rasterer(ctx: &egui::Context) -> Arc<Rasterer> {
    let id = Id::unique("what makes pixels of drawings");
    if let Some(known) = ctx.data(|data| data.get_temp::<Arc<Rasterer>>(id)) {
        return known;
    }
    let known = FontDefinitions::default();
    let names = known.families.get(&egui::FontFamily::Proportional).cloned().unwrap_or_default();
    let bytes = |name: &String| -> Option<Vec<u8>> {
        let font: &[u8] = (*known.font_data.get(name)?.font).as_ref();
        Some(font.to_vec())
    };
    let fonts = names.iter().filter_map(bytes).collect();
    let made = Arc::new(Rasterer::with_fonts(fonts));
    ctx.data_mut(|data| data.insert_temp(id, Arc::clone(&made)));
    made
}
