//! One attempt to find one target near one place in one frame: likeness, fine centre, acceptance tests,
//! and for a failure the cause of the gap.

use super::likeness::Likeness;
use super::look::Look;
use super::options::FollowOptions;
use crate::locate::{LocateFailure, LocateOptions, Located, greatest_u, locate};
use crate::rings::Ring;
use filmgauge_quantities::{GapCause, GreyView, PixelPoint, TargetKind};
use std::f64::consts::PI;

/// Radius of the ring that shows a quadrant's angle, as a share of the target's radius.
const ANGLE_RING_SHARE: f64 = 0.6;

/// Least share of the two-cycle pattern on that ring.
const LEAST_PATTERN_SHARE: f64 = 0.4;

/// A smeared target keeps at least this share of its spread of grey levels; with less it is covered, not smeared.
const LEAST_BLURRED_SPREAD: f64 = 0.25;

/// Least search around a start, px: starts are typed or clicked.
const START_SEARCH_PX: f64 = 2.5;

/// What the start's frame showed of a target.
#[derive(Debug, Clone)]
pub(super) struct Known {
    pub(super) likeness: Likeness,
    contrast: f64,
    look: Option<Look>,
    angle_rad: Option<f64>,
}

/// A target seen in a frame.
#[derive(Debug, Clone)]
pub(super) struct Seen {
    pub(super) located: Located,
    pub(super) zncc: f64,
    /// Contrast as a share of the start's.
    pub(super) contrast_ratio: f64,
    /// Turn of a quadrant since its start, rad.
    pub(super) turned_rad: Option<f64>,
    /// Distance from the prediction, standard deviations; 0 where there was none.
    pub(super) jump_sigmas: f64,
    /// Whether the body's pose led to it.
    pub(super) is_guided: bool,
}

/// A target not seen, and why.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Miss {
    pub(super) cause: GapCause,
    pub(super) why: String,
}

impl Miss {
    pub(super) fn new(cause: GapCause, why: impl Into<String>) -> Self {
        Self { cause, why: why.into() }
    }
}

/// One frame as all attempts in it see it.
#[derive(Clone, Copy)]
pub(super) struct Scene<'a> {
    pub(super) view: &'a GreyView<'a>,
    /// Whether the frame's mean level has jumped up.
    pub(super) is_flash: bool,
    pub(super) options: &'a FollowOptions,
}

/// First sight of a target at its start.
///
/// # Errors
/// The reason why there is no target.
pub(super) fn first_sight(
    scene: Scene,
    kind: TargetKind,
    start: PixelPoint,
    radius_px: f64,
) -> Result<(Known, Seen), String> {
    let options = LocateOptions {
        search_px: scene.options.locate.search_px.max(START_SEARCH_PX),
        ..scene.options.locate.clone()
    };
    let located = locate(scene.view, start, radius_px, &options).map_err(|failure| failure.to_string())?;
    let u_px = greatest_u(&located.cov);
    if u_px > scene.options.greatest_u_px {
        return Err(format!("its centre is good to {u_px:.2} px only"));
    }
    let ring = Ring::around(scene.view, located.centre, ANGLE_RING_SHARE * radius_px);
    let angle_rad = match (kind, ring) {
        (TargetKind::Quadrant, Some(ring)) if ring.share >= LEAST_PATTERN_SHARE => Some(ring.angle_rad()),
        (TargetKind::Quadrant, _) => return Err("no quartered pattern there".to_owned()),
        _ => None,
    };
    let likeness = Likeness::new(scene.view, located.centre, radius_px).ok_or("the picture there is flat")?;
    let look = Look::of(scene.view, located.centre, radius_px, ceiling(scene));
    let known = Known { likeness, contrast: located.contrast, look, angle_rad };
    let seen = Seen {
        located,
        zncc: 1.0,
        contrast_ratio: 1.0,
        turned_rad: angle_rad.map(|_| 0.0),
        jump_sigmas: 0.0,
        is_guided: false,
    };
    Ok((known, seen))
}

/// Looks for a known target within `gate_px` of `place`.
pub(super) fn attempt(
    scene: Scene,
    known: &Known,
    radius_px: f64,
    place: PixelPoint,
    gate_px: f64,
) -> Result<Seen, Miss> {
    let options = scene.options;
    let reach = options.locate.window_share * radius_px;
    if !is_in_view(scene.view, place, reach) {
        return Err(Miss::new(GapCause::OutOfView, "its place is outside the picture or too near the edge"));
    }
    let Some(peak) = known.likeness.seek(scene.view, place, gate_px) else {
        return Err(Miss::new(GapCause::OutOfView, "no room for it near the picture's edge"));
    };
    if peak.zncc < options.least_zncc {
        let why = format!("likeness {:.2} is below {:.2}", peak.zncc, options.least_zncc);
        return Err(Miss::new(cause(scene, known, radius_px, place), why));
    }
    if peak.second > options.greatest_second_share * peak.zncc {
        let why = format!("two places alike: {:.2} and {:.2}", peak.zncc, peak.second);
        return Err(Miss::new(doubt(scene, known, radius_px, place), why));
    }
    match locate(scene.view, peak.place, radius_px, &options.locate) {
        Ok(located) => judged(scene, known, radius_px, located, peak.zncc, peak.place),
        Err(LocateFailure::OutOfView) => {
            Err(Miss::new(GapCause::OutOfView, LocateFailure::OutOfView.to_string()))
        }
        Err(failure @ LocateFailure::Saturated { .. }) => {
            Err(Miss::new(GapCause::Flash, failure.to_string()))
        }
        Err(failure) => Err(Miss::new(cause(scene, known, radius_px, peak.place), failure.to_string())),
    }
}

/// The tests that a fine centre must pass to become a mark.
fn judged(
    scene: Scene,
    known: &Known,
    radius_px: f64,
    located: Located,
    zncc: f64,
    peak: PixelPoint,
) -> Result<Seen, Miss> {
    let options = scene.options;
    let slipped = located.centre.distance(peak);
    if slipped > 1.0 + 0.15 * radius_px {
        let why = format!("centre of symmetry {slipped:.1} px from the place of greatest likeness");
        return Err(Miss::new(doubt(scene, known, radius_px, peak), why));
    }
    let contrast_ratio = located.contrast / known.contrast;
    if contrast_ratio < options.least_contrast_ratio {
        let why = format!("contrast fell to {:.0} % of the start's", contrast_ratio * 100.0);
        return Err(Miss::new(cause(scene, known, radius_px, peak), why));
    }
    if located.widening > options.greatest_widening {
        let why = "partly covered: what its half-turn leaves has structure";
        return Err(Miss::new(cause(scene, known, radius_px, peak), why));
    }
    let u_px = greatest_u(&located.cov);
    if u_px > options.greatest_u_px {
        let why = format!("its centre would be good to {u_px:.2} px only");
        return Err(Miss::new(cause(scene, known, radius_px, peak), why));
    }
    let ring = Ring::around(scene.view, located.centre, ANGLE_RING_SHARE * radius_px);
    let turned_rad = known.angle_rad.zip(ring).map(|(at_start, ring)| {
        // A quadrant looks the same after half a turn: take the angle nearest to the last known one.
        let turned = ring.angle_rad() - at_start;
        let last = known.likeness.turned_rad;
        last + (turned - last + PI / 2.0).rem_euclid(PI) - PI / 2.0
    });
    Ok(Seen { located, zncc, contrast_ratio, turned_rad, jump_sigmas: 0.0, is_guided: false })
}

/// Why a known target cannot be made out at a place.
fn cause(scene: Scene, known: &Known, radius_px: f64, place: PixelPoint) -> GapCause {
    let Some(look) = Look::of(scene.view, place, radius_px, ceiling(scene)) else { return GapCause::Hidden };
    if scene.is_flash || look.saturated_share > scene.options.locate.greatest_saturated_share {
        return GapCause::Flash;
    }
    let is_blurred = known.look.is_some_and(|start| {
        look.sharpness < scene.options.blur_share * start.sharpness
            && look.spread > LEAST_BLURRED_SPREAD * start.spread
    });
    if is_blurred { GapCause::Blurred } else { GapCause::Hidden }
}

/// The cause where something was found but is not to be believed.
fn doubt(scene: Scene, known: &Known, radius_px: f64, place: PixelPoint) -> GapCause {
    match cause(scene, known, radius_px, place) {
        GapCause::Hidden => GapCause::Rejected,
        other => other,
    }
}

fn ceiling(scene: Scene) -> f64 {
    scene.options.locate.saturation_share * f64::from(scene.view.full_scale())
}

fn is_in_view(view: &GreyView, place: PixelPoint, reach: f64) -> bool {
    place.x >= reach
        && place.y >= reach
        && place.x + reach <= view.width() as f64 - 1.0
        && place.y + reach <= view.height() as f64 - 1.0
}
