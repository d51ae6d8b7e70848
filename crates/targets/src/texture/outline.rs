//! The outline of a patch in a picture, and the piece of the picture to be splined for it.

use super::failure::TextureFailure;
use super::ground::{Extent, Ground};
use super::place::TexturePlace;
use super::sample::CoefMap;
use super::template::Texture;
use filmgauge_quantities::{GreyView, PixelPoint};

/// How far around the patch's present outline the picture is splined, px.
const SLACK_PX: f64 = 1.0;

pub(super) fn left_picture(place: &TexturePlace) -> TextureFailure {
    TextureFailure::LeftPicture { x: place.centre.x, y: place.centre.y }
}

/// The patch's bounding corners in the picture.
pub(super) fn outline(place: &TexturePlace, texture: &Texture) -> (PixelPoint, PixelPoint) {
    outline_of(place, texture.size.width as f64 / 2.0, texture.size.height as f64 / 2.0)
}

/// Bounding corners of a rectangle of half sides (`half_u`, `half_v`) around a place.
pub(super) fn outline_of(place: &TexturePlace, half_u: f64, half_v: f64) -> (PixelPoint, PixelPoint) {
    let shape = &place.shape;
    let dx = shape.xx.abs() * half_u + shape.xy.abs() * half_v;
    let dy = shape.yx.abs() * half_u + shape.yy.abs() * half_v;
    (place.centre.moved(-dx, -dy), place.centre.moved(dx, dy))
}

pub(super) fn in_picture(view: &GreyView, low: PixelPoint, high: PixelPoint) -> bool {
    low.x >= -0.5
        && low.y >= -0.5
        && high.x <= view.width() as f64 - 0.5
        && high.y <= view.height() as f64 - 0.5
}

#[expect(clippy::cast_possible_truncation, reason = "the outline lies in the picture")]
pub(super) fn around(
    view: &GreyView,
    place: &TexturePlace,
    texture: &Texture,
) -> Result<Ground, TextureFailure> {
    let (low, high) = outline(place, texture);
    if !in_picture(view, low, high) {
        return Err(left_picture(place));
    }
    let spline = texture.options.interpolation;
    let (left, right) = (spline.left() as i64 + 1, spline.n_taps() as i64 / 2 + 1);
    let extent = Extent {
        left: (low.x - SLACK_PX).floor() as i64 - left,
        top: (low.y - SLACK_PX).floor() as i64 - left,
        right: (high.x + SLACK_PX).ceil() as i64 + right + 1,
        bottom: (high.y + SLACK_PX).ceil() as i64 + right + 1,
    };
    Ground::cut(view, extent, texture.base, &texture.filter).ok_or(left_picture(place))
}

#[expect(clippy::cast_possible_truncation, reason = "coordinates within a small cut-out, single precision")]
pub(super) fn coef_map(place: &TexturePlace, ground: &Ground) -> CoefMap {
    CoefMap {
        x: (place.centre.x - ground.left as f64) as f32,
        y: (place.centre.y - ground.top as f64) as f32,
        xu: place.shape.xx as f32,
        xv: place.shape.xy as f32,
        yu: place.shape.yx as f32,
        yv: place.shape.yy as f32,
    }
}
