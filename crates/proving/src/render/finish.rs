//! What lies over the painted picture: things in the way, dust, flash, noise, and the stored bits.

use super::canvas::Canvas;
use super::haze::{DUST_GREY, Haze, occluder_rays};
use crate::random::Stream;
use crate::scene::{CameraSetup, Flash, Picture, Scene};
use crate::view::{Sighted, View, size};
use filmgauge_quantities::{GreyImage, PixelPoint};

/// Pixels between the places at which dust is computed; between them it is smooth.
const DUST_STEP: usize = 8;
/// Level at which the noise is stated, grey levels of 8 bits.
const MID_GREY: f32 = 128.0;

/// Paints the things that stand in the way.
pub(super) fn occluders(
    canvas: &mut Canvas,
    scene: &Scene,
    camera: &CameraSetup,
    view: &View,
    rays: &[[f32; 2]],
) {
    for thing in scene.occluders.iter().filter(|thing| thing.camera == camera.id) {
        let Some(bounds) = occluder_rays(view, thing) else { continue };
        let [left, low, right, high] = bounds.map(|bound| bound / view.ray_per_px());
        for (grey, ray) in canvas.grey.iter_mut().zip(rays) {
            let (x, y) = (f64::from(ray[0]) / view.ray_per_px(), f64::from(ray[1]) / view.ray_per_px());
            let inside = [x - left, right - x, y - low, high - y].map(|edge| (0.5 + edge).clamp(0.0, 1.0));
            #[expect(clippy::cast_possible_truncation, reason = "grey levels")]
            let (cover, paint) = (inside.iter().product::<f64>() as f32, thing.grey as f32);
            *grey = *grey * (1.0 - cover) + paint * cover;
        }
    }
}

/// Veils the picture with dust.
pub(super) fn dust(canvas: &mut Canvas, haze: &Haze, view: &View, rays: &[[f32; 2]]) {
    if haze.is_clear() {
        return;
    }
    let (columns, rows) = (canvas.width.div_ceil(DUST_STEP) + 1, canvas.height.div_ceil(DUST_STEP) + 1);
    let mut covers = vec![0.0_f32; columns * rows];
    for (index, cover) in covers.iter_mut().enumerate() {
        let column = (index % columns * DUST_STEP).min(canvas.width - 1);
        let row = (index / columns * DUST_STEP).min(canvas.height - 1);
        let ray = rays[row * canvas.width + column];
        #[expect(clippy::cast_possible_truncation, reason = "shares")]
        {
            *cover = haze.cover(view.on_plane([f64::from(ray[0]), f64::from(ray[1])], 0.0)) as f32;
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "small whole numbers")]
    let share = |offset: usize| offset as f32 / DUST_STEP as f32;
    for row in 0..canvas.height {
        let (cell_row, v) = (row / DUST_STEP, share(row % DUST_STEP));
        for column in 0..canvas.width {
            let (cell, u) = (cell_row * columns + column / DUST_STEP, share(column % DUST_STEP));
            let top = covers[cell] + (covers[cell + 1] - covers[cell]) * u;
            let below = cell + columns;
            let bottom = covers[below] + (covers[below + 1] - covers[below]) * u;
            let cover = top + (bottom - top) * v;
            let grey = &mut canvas.grey[row * canvas.width + column];
            *grey += (DUST_GREY - *grey) * cover;
        }
    }
}

/// Brightens the picture and saturates the bulbs while the flash burns.
///
/// `mid_s` is the mid-exposure of row 0; with a rolling shutter every row meets the flash in its own time.
pub(super) fn flash(canvas: &mut Canvas, scene: &Scene, camera: &CameraSetup, view: &View, mid_s: f64) {
    let burning_at = |row: f64| burning(&scene.flash, mid_s + row * camera.row_time_s, camera.exposure_s);
    if burning_at(size(canvas.height)) <= 0.0 || scene.flash.gain <= 0.0 {
        return;
    }
    let width = canvas.width;
    for (row, line) in canvas.grey.chunks_mut(width).enumerate() {
        #[expect(clippy::cast_possible_truncation, reason = "grey levels")]
        let gain = (1.0 + scene.flash.gain * burning_at(size(row))) as f32;
        for grey in line {
            *grey *= gain;
        }
    }
    for (_, x_m, second_m) in scene.flash.bulbs.iter().filter(|bulb| bulb.0 == camera.id) {
        let centre = view.pixel(Sighted { x_m: *x_m, second_m: *second_m, offset_m: 0.0 });
        let radius_px = scene.flash.bulb_radius_m / view.metres_per_px(0.0);
        bulb(canvas, centre, radius_px, |row| 600.0 * burning_at(row));
    }
}

/// Mean brightness of the flash over an exposure, 1 when it fires; time zero is the flash.
fn burning(flash: &Flash, mid_s: f64, exposure_s: f64) -> f64 {
    let (from, to) = (mid_s - 0.5 * exposure_s, mid_s + 0.5 * exposure_s);
    if to <= 0.0 {
        0.0
    } else if exposure_s <= 0.0 {
        (-mid_s / flash.decay_s).exp()
    } else {
        let from = from.max(0.0);
        flash.decay_s * ((-from / flash.decay_s).exp() - (-to / flash.decay_s).exp()) / exposure_s
    }
}

fn bulb(canvas: &mut Canvas, centre: PixelPoint, radius_px: f64, added_at: impl Fn(f64) -> f64) {
    let width = canvas.width;
    for (row, line) in canvas.grey.chunks_mut(width).enumerate() {
        let dy = (size(row) - centre.y) / radius_px;
        if dy.abs() > 3.0 {
            continue;
        }
        let added = added_at(size(row));
        for (column, grey) in line.iter_mut().enumerate() {
            let dx = (size(column) - centre.x) / radius_px;
            #[expect(clippy::cast_possible_truncation, reason = "grey levels")]
            {
                *grey += (added * (-(dx * dx + dy * dy)).exp()) as f32;
            }
        }
    }
}

/// Stored grey levels per grey level of 8 bits.
pub(super) fn stored_per_grey(bits: u8) -> f32 {
    f32::from(u16::try_from((1_u32 << bits) - 1).unwrap_or(u16::MAX)) / 255.0
}

/// Adds noise and rounds to the stored bits. The noise's variance is `noise_grey²` at mid-grey; the share that is
/// shot noise grows with the level.
pub(super) fn stored(canvas: &Canvas, picture: &Picture, seed: u64, camera: u64, frame: u32) -> GreyImage {
    let mut stream = Stream::new(seed, "noise", camera, u64::from(frame));
    let scale = stored_per_grey(picture.bits);
    let full = 255.0 * scale;
    #[expect(clippy::cast_possible_truncation, reason = "grey levels")]
    let (variance, shot) = ((picture.noise_grey * picture.noise_grey) as f32, picture.shot_share as f32);
    let levels = canvas.grey.iter().map(|&grey| {
        let noisy = if variance > 0.0 {
            let spread = (variance * (1.0 - shot + shot * grey.max(0.0) / MID_GREY)).sqrt();
            grey + spread * stream.unit_normal_f32()
        } else {
            grey
        };
        // Half a level up and cut: rounding to nearest without a library call per pixel.
        (noisy * scale).clamp(0.0, full) + 0.5
    });
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to the stored range"
    )]
    let image = if picture.bits == 8 {
        GreyImage::from_u8(canvas.width, canvas.height, levels.map(|level| level as u8).collect())
    } else {
        GreyImage::from_u16(
            canvas.width,
            canvas.height,
            picture.bits,
            levels.map(|level| level as u16).collect(),
        )
    };
    image.unwrap_or_else(|_| unreachable!("a canvas has as many samples as pixels"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_flash_fires_at_time_zero_and_dies_away() {
        let flash = Flash { decay_s: 0.003, ..Flash::default() };
        assert!(burning(&flash, -0.001, 0.0002) == 0.0);
        assert!((burning(&flash, 0.0, 0.0002) - 0.5).abs() < 0.02);
        assert!((burning(&flash, 0.003, 0.0002) - (-1.0_f64).exp()).abs() < 1e-3);
        assert!((burning(&flash, 0.003, 0.0) - (-1.0_f64).exp()).abs() < 1e-12);
    }

    #[test]
    fn noise_has_the_spread_asked_for_at_mid_grey() {
        let canvas = Canvas { width: 200, height: 200, grey: vec![128.0; 40_000] };
        let picture = Picture { noise_grey: 2.0, bits: 12, ..Picture::default() };
        let image = stored(&canvas, &picture, 3, 0, 0);
        let scale = f64::from(stored_per_grey(12));
        let levels: Vec<f64> =
            (0..40_000).map(|i| f64::from(image.view().get(i % 200, i / 200).unwrap()) / scale).collect();
        let mean = levels.iter().sum::<f64>() / 40_000.0;
        let sd = (levels.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / 39_999.0).sqrt();
        assert!((mean - 128.0).abs() < 0.05 && (sd - 2.0).abs() < 0.04, "{mean} {sd}");
    }
}
