//! One attempt to find one target near one place in one frame: likeness, fine centre, acceptance tests,
//! and for a failure the cause of the gap.

use super::gate::Peak;
use super::known::{ANGLE_RING_SHARE, Known, Template, is_in_view};
use super::look::Look;
use super::options::FollowOptions;
use crate::locate::{LocateFailure, Located, greatest_u, locate};
use crate::rings::Ring;
use crate::texture::{PatchShape, SearchGate, Texture, TextureFailure, TexturePlace, match_texture, search};
use filmgauge_quantities::{GapCause, GreyView, PixelCov, PixelPoint};
use std::f64::consts::PI;

/// A smeared target keeps at least this share of its spread of grey levels; with less it is covered, not smeared.
const LEAST_BLURRED_SPREAD: f64 = 0.25;

/// A target seen in a frame.
#[derive(Debug, Clone)]
pub(super) struct Seen {
    pub(super) centre: PixelPoint,
    pub(super) cov: PixelCov,
    pub(super) zncc: f64,
    /// The greatest likeness elsewhere in the gate as a share of this one.
    pub(super) rival_share: f64,
    /// Contrast as a share of the start's.
    pub(super) contrast_ratio: f64,
    /// How many times structure in the residual widened the variance.
    pub(super) widening: f64,
    pub(super) saturated_share: f64,
    /// Turn since its start, rad, where its picture shows one.
    pub(super) turned_rad: Option<f64>,
    /// Shape of a texture patch.
    pub(super) shape: Option<PatchShape>,
    /// Distance from the prediction, standard deviations; 0 where there was none.
    pub(super) jump_sigmas: f64,
    /// Whether the body's pose led to it.
    pub(super) is_guided: bool,
    /// Found far from where it was lost, and not confirmed yet.
    pub(super) is_provisional: bool,
    /// What else speaks against it, with the factor that it leaves of the trust.
    pub(super) doubts: Vec<(f64, String)>,
}

impl Seen {
    /// A sighting that nothing speaks against.
    pub(super) fn at(centre: PixelPoint, cov: PixelCov) -> Self {
        Self {
            centre,
            cov,
            zncc: 1.0,
            rival_share: 0.0,
            contrast_ratio: 1.0,
            widening: 1.0,
            saturated_share: 0.0,
            turned_rad: None,
            shape: None,
            jump_sigmas: 0.0,
            is_guided: false,
            is_provisional: false,
            doubts: Vec::new(),
        }
    }
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

impl Scene<'_> {
    /// A covariance from the picture's noise, with what the picture itself adds.
    pub(super) fn with_picture(&self, cov: &PixelCov) -> PixelCov {
        let of_picture = self.options.locate.picture_u_px.powi(2);
        PixelCov { xx: cov.xx + of_picture, xy: cov.xy, yy: cov.yy + of_picture }
    }

    /// Grey level from which a pixel counts as saturated.
    pub(super) fn ceiling(&self) -> f64 {
        self.options.locate.saturation_share * f64::from(self.view.full_scale())
    }
}

/// One known target in one frame.
#[derive(Clone, Copy)]
pub(super) struct Glance<'a> {
    pub(super) scene: Scene<'a>,
    pub(super) known: &'a Known,
    /// Radius that it is compared and located over, px.
    pub(super) radius_px: f64,
}

impl Glance<'_> {
    /// Looks for the target within `gate_px` of `place`.
    pub(super) fn attempt(&self, place: PixelPoint, gate_px: f64) -> Result<Seen, Miss> {
        let reach = self.scene.options.locate.window_share * self.radius_px;
        if !is_in_view(self.scene.view, place, reach) {
            let why = "its place is outside the picture or too near the edge";
            return Err(Miss::new(GapCause::OutOfView, why));
        }
        match &self.known.template {
            Template::Painted(likeness) => {
                let peak = likeness.seek(self.scene.view, place, gate_px);
                let away = || Miss::new(GapCause::OutOfView, "no room for it near the picture's edge");
                self.settle(&self.believed(peak.ok_or_else(away)?, place)?)
            }
            Template::Patch { texture, shape } => self.patch(texture, *shape, place, gate_px),
        }
    }

    /// A peak that is high enough and stands alone.
    fn believed(&self, peak: Peak, place: PixelPoint) -> Result<Peak, Miss> {
        let options = self.scene.options;
        if peak.zncc < options.least_zncc {
            let why = format!("likeness {:.2} is below {:.2}", peak.zncc, options.least_zncc);
            return Err(Miss::new(self.cause(place), why));
        }
        if peak.second > options.greatest_second_share * peak.zncc {
            let why = format!("two places alike: {:.2} and {:.2}", peak.zncc, peak.second);
            return Err(Miss::new(self.doubt(place), why));
        }
        Ok(peak)
    }

    /// The fine centre of a painted target at a peak of likeness.
    pub(super) fn settle(&self, peak: &Peak) -> Result<Seen, Miss> {
        match locate(self.scene.view, peak.place, self.radius_px, &self.scene.options.locate) {
            Ok(located) => self.judged(&located, peak),
            Err(LocateFailure::OutOfView) => {
                Err(Miss::new(GapCause::OutOfView, LocateFailure::OutOfView.to_string()))
            }
            Err(failure @ LocateFailure::Saturated { .. }) => {
                Err(Miss::new(GapCause::Flash, failure.to_string()))
            }
            Err(failure) => Err(Miss::new(self.cause(peak.place), failure.to_string())),
        }
    }

    /// The tests that a fine centre must pass to become a mark.
    fn judged(&self, located: &Located, peak: &Peak) -> Result<Seen, Miss> {
        let options = self.scene.options;
        let place = peak.place;
        let slipped = located.centre.distance(place);
        if slipped > 1.0 + 0.15 * self.radius_px {
            let why = format!("centre of symmetry {slipped:.1} px from the place of greatest likeness");
            return Err(Miss::new(self.doubt(place), why));
        }
        let contrast_ratio = located.contrast / self.known.contrast;
        if contrast_ratio < options.least_contrast_ratio {
            let why = format!("contrast fell to {:.0} % of the start's", contrast_ratio * 100.0);
            return Err(Miss::new(self.cause(place), why));
        }
        if located.widening > options.greatest_widening {
            let why = "partly covered: what its half-turn leaves has structure";
            return Err(Miss::new(self.cause(place), why));
        }
        self.precise(&located.cov, place)?;
        let ring = Ring::around(self.scene.view, located.centre, ANGLE_RING_SHARE * self.radius_px);
        let turned_rad = self.known.angle_rad.zip(ring).map(|(at_start, ring)| {
            // A quadrant looks the same after half a turn: take the angle nearest to the last known one.
            let turned = ring.angle_rad() - at_start;
            let last = self.known.turned_rad();
            last + (turned - last + PI / 2.0).rem_euclid(PI) - PI / 2.0
        });
        Ok(Seen {
            zncc: peak.zncc,
            rival_share: peak.second / peak.zncc,
            contrast_ratio,
            widening: located.widening,
            saturated_share: located.saturated_share,
            turned_rad,
            ..Seen::at(located.centre, located.cov)
        })
    }

    fn precise(&self, cov: &PixelCov, place: PixelPoint) -> Result<(), Miss> {
        let u_px = greatest_u(cov);
        if u_px > self.scene.options.greatest_u_px {
            let why = format!("its centre would be good to {u_px:.2} px only");
            return Err(Miss::new(self.cause(place), why));
        }
        Ok(())
    }

    /// A patch of texture: the most alike place of the gate, then the fine match.
    fn patch(
        &self,
        texture: &Texture,
        shape: PatchShape,
        near: PixelPoint,
        gate_px: f64,
    ) -> Result<Seen, Miss> {
        let options = self.scene.options;
        let gate = SearchGate { near: TexturePlace { centre: near, shape }, reach_px: gate_px };
        let missed = |failure: TextureFailure| {
            let cause = match failure {
                TextureFailure::LeftPicture { .. } => GapCause::OutOfView,
                TextureFailure::Masked { .. } => GapCause::Flash,
                _ => self.cause(near),
            };
            Miss::new(cause, failure.to_string())
        };
        let found = search(self.scene.view, &gate, texture).map_err(missed)?;
        let peak = Peak { place: found.place.centre, zncc: found.zncc, second: found.second };
        let peak = self.believed(peak, near)?;
        let matched =
            match_texture(self.scene.view, &found.place, texture, &options.texture).map_err(missed)?;
        if matched.gain < options.least_contrast_ratio {
            let why = format!("contrast fell to {:.0} % of the start's", matched.gain * 100.0);
            return Err(Miss::new(self.cause(near), why));
        }
        self.precise(&matched.cov, near)?;
        Ok(Seen {
            zncc: matched.zncc,
            rival_share: peak.second / peak.zncc,
            contrast_ratio: matched.gain,
            turned_rad: Some(matched.shape.turn_rad()),
            shape: Some(matched.shape),
            ..Seen::at(matched.centre, self.scene.with_picture(&matched.cov))
        })
    }

    /// Why the target cannot be made out at a place.
    pub(super) fn cause(&self, place: PixelPoint) -> GapCause {
        let scene = self.scene;
        let Some(look) = Look::of(scene.view, place, self.radius_px, scene.ceiling()) else {
            return GapCause::Hidden;
        };
        if scene.is_flash || look.saturated_share > scene.options.locate.greatest_saturated_share {
            return GapCause::Flash;
        }
        let is_blurred = self.known.look.is_some_and(|start| {
            look.sharpness < scene.options.blur_share * start.sharpness
                && look.spread > LEAST_BLURRED_SPREAD * start.spread
        });
        if is_blurred { GapCause::Blurred } else { GapCause::Hidden }
    }

    /// The cause where something was found but is not to be believed.
    fn doubt(&self, place: PixelPoint) -> GapCause {
        match self.cause(place) {
            GapCause::Hidden => GapCause::Rejected,
            other => other,
        }
    }
}
