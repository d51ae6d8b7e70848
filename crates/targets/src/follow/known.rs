//! What the start's frame showed of a target: the picture it is compared with from then on, and its look.

use super::attempt::{Scene, Seen};
use super::likeness::Likeness;
use super::look::Look;
use super::refused::Refused;
use crate::locate::{LocateOptions, greatest_u, locate};
use crate::rings::Ring;
use crate::texture::{PatchShape, PatchSize, Texture, TextureOptions, Warp};
use filmgauge_quantities::{GreyView, PixelPoint, TargetKind};

/// Radius of the ring that shows a quadrant's angle, as a share of the target's radius.
pub(super) const ANGLE_RING_SHARE: f64 = 0.6;

/// Least share of the two-cycle pattern on that ring.
const LEAST_PATTERN_SHARE: f64 = 0.4;

/// Least search around a start, px: starts are typed or clicked.
const START_SEARCH_PX: f64 = 2.5;

/// A quadrant's picture is turned anew when the target has turned this much further, rad.
const RETURN_RAD: f64 = 0.07;

/// What the start's frame showed of a target.
#[derive(Debug, Clone)]
pub(super) struct Known {
    pub(super) template: Template,
    /// Contrast of the start, grey levels.
    pub(super) contrast: f64,
    pub(super) look: Option<Look>,
    pub(super) angle_rad: Option<f64>,
}

/// The start's picture, ready to be compared.
#[derive(Debug, Clone)]
pub(super) enum Template {
    /// A painted target: found by likeness, located by its own symmetry.
    Painted(Likeness),
    /// Natural texture, and its shape when last seen.
    Patch { texture: Box<Texture>, shape: PatchShape },
}

impl Known {
    /// By how much the picture is turned against the start, rad.
    pub(super) fn turned_rad(&self) -> f64 {
        match &self.template {
            Template::Painted(likeness) => likeness.turned_rad,
            Template::Patch { shape, .. } => shape.turn_rad(),
        }
    }

    /// Turns the picture as the target has turned.
    pub(super) fn turn_to(&mut self, angle_rad: f64) {
        if (self.turned_rad() - angle_rad).abs() <= RETURN_RAD {
            return;
        }
        match &mut self.template {
            Template::Painted(likeness) => {
                likeness.turn_to(angle_rad);
            }
            Template::Patch { shape, .. } => *shape = PatchShape::turned(angle_rad, shape.scale()),
        }
    }

    /// Takes over how the target now looks.
    pub(super) fn follow(&mut self, seen: &Seen) {
        if let (Template::Patch { shape, .. }, Some(now)) = (&mut self.template, seen.shape) {
            *shape = now;
        } else if let Some(turned_rad) = seen.turned_rad {
            self.turn_to(turned_rad);
        }
    }
}

/// First sight of a target at its start.
///
/// # Errors
/// [`Refused`] says why there is no target.
pub(super) fn first_sight(
    scene: Scene,
    kind: TargetKind,
    start: PixelPoint,
    radius_px: f64,
) -> Result<(Known, Seen), Refused> {
    if kind == TargetKind::Patch {
        first_patch(scene, start, radius_px)
    } else {
        first_painted(scene, kind, start, radius_px)
    }
}

fn first_painted(
    scene: Scene,
    kind: TargetKind,
    start: PixelPoint,
    radius_px: f64,
) -> Result<(Known, Seen), Refused> {
    let options = LocateOptions {
        search_px: scene.options.locate.search_px.max(START_SEARCH_PX),
        ..scene.options.locate.clone()
    };
    let located = locate(scene.view, start, radius_px, &options)?;
    let u_px = greatest_u(&located.cov);
    if u_px > scene.options.greatest_u_px {
        return Err(Refused::not_there(format!("its centre is good to {u_px:.2} px only")));
    }
    let ring = Ring::around(scene.view, located.centre, ANGLE_RING_SHARE * radius_px);
    let angle_rad = match (kind, ring) {
        (TargetKind::Quadrant, Some(ring)) if ring.share >= LEAST_PATTERN_SHARE => Some(ring.angle_rad()),
        (TargetKind::Quadrant, _) => return Err(Refused::not_there("no quartered pattern is there")),
        _ => None,
    };
    let likeness = Likeness::new(scene.view, located.centre, radius_px)
        .ok_or_else(|| Refused::not_there("the picture there is flat"))?;
    let look = Look::of(scene.view, located.centre, radius_px, scene.ceiling());
    let seen = Seen {
        widening: located.widening,
        saturated_share: located.saturated_share,
        turned_rad: angle_rad.map(|_| 0.0),
        ..Seen::at(located.centre, located.cov)
    };
    let template = Template::Painted(likeness);
    Ok((Known { template, contrast: located.contrast, look, angle_rad }, seen))
}

/// A patch is taken where it is pointed at: its centre is the start itself, and its own error is the template's.
fn first_patch(scene: Scene, start: PixelPoint, radius_px: f64) -> Result<(Known, Seen), Refused> {
    let options = TextureOptions {
        warp: Warp::Similarity,
        saturation_share: scene.options.locate.saturation_share,
        greatest_u_px: scene.options.greatest_u_px,
        ..TextureOptions::default()
    };
    let texture = Texture::new(scene.view, start, patch_size(radius_px), &options)?;
    let own = crate::texture::match_texture(
        scene.view,
        &crate::texture::TexturePlace::at(start),
        &texture,
        &scene.options.texture,
    );
    // Matched with itself the patch lies where it is; only its stated doubt is of interest.
    let cov = scene.with_picture(&own?.cov);
    let look = Look::of(scene.view, start, radius_px, scene.ceiling());
    let shape = PatchShape::default();
    let template = Template::Patch { texture: Box::new(texture), shape };
    let seen = Seen { shape: Some(shape), turned_rad: Some(0.0), ..Seen::at(start, cov) };
    Ok((Known { template, contrast: 1.0, look, angle_rad: None }, seen))
}

/// The square of a patch: odd sides around its middle pixel.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "radii are checked to be 3 to 200 px for patches"
)]
fn patch_size(radius_px: f64) -> PatchSize {
    PatchSize::square(2 * radius_px.round() as usize + 1)
}

/// How far the template reaches from its centre, px.
pub(super) fn is_in_view(view: &GreyView, place: PixelPoint, reach: f64) -> bool {
    place.x >= reach
        && place.y >= reach
        && place.x + reach <= view.width() as f64 - 1.0
        && place.y + reach <= view.height() as f64 - 1.0
}
