//! What stands still behind everything: rays of all pixels, background texture, horizon, board.

use super::canvas::Canvas;
use super::spread::Spread;
use super::stamp::{Tones, stamp};
use super::texture::Texture;
use crate::ProvingError;
use crate::drawn::Drawn;
use crate::placing::Placed;
use crate::scene::CameraSetup;
use crate::view::{View, size};
use filmgauge_quantities::{PixelPoint, TargetKind};

/// Grey of the board's bar, grey levels of 8 bits.
const BOARD_GREY: f64 = 170.0;

/// The ray of every pixel, row after row.
pub(super) fn rays(view: &View, camera: &CameraSetup) -> Result<Vec<[f32; 2]>, ProvingError> {
    let mut rays = Vec::with_capacity(camera.width_px * camera.height_px);
    for row in 0..camera.height_px {
        for column in 0..camera.width_px {
            let ray = view
                .ray(PixelPoint::new(size(column), size(row)))
                .map_err(|source| ProvingError::Lens { camera: camera.id.clone(), source })?;
            #[expect(clippy::cast_possible_truncation, reason = "single precision holds 1e-4 px")]
            rays.push([ray[0] as f32, ray[1] as f32]);
        }
    }
    Ok(rays)
}

/// The rays of a picture that weaves; a pixel that weave carries beyond the lens' field keeps its ray without weave.
pub(super) fn woven_rays(woven: &View, camera: &CameraSetup, without: &[[f32; 2]]) -> Vec<[f32; 2]> {
    let place = |index: usize| PixelPoint::new(size(index % camera.width_px), size(index / camera.width_px));
    let woven_ray = |(index, ray): (usize, &[f32; 2])| {
        #[expect(clippy::cast_possible_truncation, reason = "single precision holds 1e-4 px")]
        woven.ray(place(index)).map_or(*ray, |ray| [ray[0] as f32, ray[1] as f32])
    };
    without.iter().enumerate().map(woven_ray).collect()
}

/// Ground, sky and board.
pub(super) fn background(
    camera: &CameraSetup,
    view: &View,
    drawn: &Drawn,
    spread: &Spread,
    rays: &[[f32; 2]],
) -> Canvas {
    let picture = &camera.picture;
    let texture = Texture { seed: 0xb0_a2d, grain: picture.grain_px };
    let (width, height) = (camera.width_px, camera.height_px);
    let ends = drawn.board_ends_m(camera);
    let px_m = view.metres_per_px(0.0);
    let mut grey = Vec::with_capacity(width * height);
    for (index, ray) in rays.iter().enumerate() {
        let film = view.film_at_rest(PixelPoint::new(size(index % width), size(index / width)));
        let (column, row) = (film.x, film.y);
        let [x, second] = view.on_plane([f64::from(ray[0]), f64::from(ray[1])], 0.0);
        let above =
            picture.horizon_m.map_or(0.0, |horizon| (0.5 + (second - horizon) / px_m).clamp(0.0, 1.0));
        let base = picture.ground_grey + (picture.sky_grey - picture.ground_grey) * above;
        let tilt = picture.gradient_grey * (column / size(width) - 0.5);
        let painted = base + tilt + picture.texture_grey * texture.at(column, row);
        let board = board_cover(camera, &ends, [x, second], px_m);
        #[expect(clippy::cast_possible_truncation, reason = "grey levels")]
        grey.push((painted * (1.0 - board) + BOARD_GREY * board) as f32);
    }
    let mut canvas = Canvas { width, height, grey };
    #[expect(clippy::cast_possible_truncation, reason = "grey levels")]
    let tones = Tones { light: picture.light_grey as f32, dark: picture.dark_grey as f32 };
    for end in ends {
        let placed = Placed::board_mark(view, end, camera.board.mark_radius_m);
        stamp(&mut canvas, spread, TargetKind::Quadrant, &[placed], tones);
    }
    canvas
}

/// Share of a pixel that the board's bar covers: as wide as the end marks and a little longer.
fn board_cover(camera: &CameraSetup, ends: &[[f64; 2]; 2], at_m: [f64; 2], px_m: f64) -> f64 {
    let margin = 1.5 * camera.board.mark_radius_m;
    let inside = |low: f64, high: f64, place: f64| {
        (0.5 + (place - low) / px_m).clamp(0.0, 1.0) * (0.5 + (high - place) / px_m).clamp(0.0, 1.0)
    };
    inside(ends[0][0] - margin, ends[1][0] + margin, at_m[0])
        * inside(ends[0][1] - margin, ends[0][1] + margin, at_m[1])
}
