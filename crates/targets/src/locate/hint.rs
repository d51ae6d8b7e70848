//! What is known of a target besides its place: kind, size, smear, how its plate lies before the camera.

use super::circle::CirclePose;
use super::outline::Outline;
use super::{LocateFailure, LocateOptions};
use crate::error::{TargetsError, require_all};
use filmgauge_quantities::{PixelPoint, TargetKind};

/// Smallest radius of a window, px.
const LEAST_WINDOW_PX: f64 = 2.0;

/// What is known of a target besides its place.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetHint {
    /// What is painted.
    pub kind: TargetKind,
    /// Radius of the outermost painted edge along its longest direction in the picture, px; 3 or more. A disc's or ring's
    /// dark edge, a quadrant's or cross's rim.
    pub radius_px: f64,
    /// Longest way in the picture during the exposure, px; 0 to 200. Widens the window of a disc or ring, whose edges
    /// must stay inside; a quadrant's and a cross's window stays as it is.
    pub smear_px: f64,
    /// Whether the ground around a quadrant or cross is plain and evenly lit, [`LocateOptions::surround_px`] and half the
    /// smear wide: a target on a plate of its own. Then the window takes in the rim, which fixes the centre better.
    pub is_on_plain_ground: bool,
    /// How the plate lies before the camera, where that is known: the window follows the slant, and the middle of a
    /// circle's picture is moved to the picture of its middle.
    pub pose: Option<CirclePose>,
}

impl TargetHint {
    /// A target that faces the camera and does not smear.
    #[must_use]
    pub fn new(kind: TargetKind, radius_px: f64) -> Self {
        Self { kind, radius_px, smear_px: 0.0, is_on_plain_ground: false, pose: None }
    }

    /// Whether every figure is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        require_all(&[
            ("radius_px", self.radius_px, super::LEAST_RADIUS_PX..=1e5, "it must be 3 to 100000 px"),
            ("smear_px", self.smear_px, 0.0..=200.0, "it must be 0 to 200 px"),
        ])?;
        self.pose.as_ref().map_or(Ok(()), CirclePose::check)
    }

    /// Whether the window reaches beyond the outermost edge: always where that edge itself carries the centre.
    fn is_seen_whole(&self) -> bool {
        self.is_on_plain_ground || matches!(self.kind, TargetKind::Disc | TargetKind::Ring)
    }

    /// The window of this target about a place.
    pub(super) fn outline(
        &self,
        near: PixelPoint,
        options: &LocateOptions,
    ) -> Result<Outline, LocateFailure> {
        let long_px = options.window_px(self);
        let Some(pose) = &self.pose else { return Ok(Outline::round(long_px)) };
        let (squeeze, direction) = pose.slant(near).ok_or(LocateFailure::EdgeOn)?;
        let beyond = if self.is_seen_whole() { long_px - self.radius_px } else { 0.0 };
        let short_px = (squeeze * (long_px - beyond) + beyond).max(LEAST_WINDOW_PX);
        Ok(Outline::slanted(long_px, short_px, direction))
    }
}

impl LocateOptions {
    /// Radius of the window of a target along its longest direction, px.
    #[must_use]
    pub fn window_px(&self, hint: &TargetHint) -> f64 {
        if hint.is_seen_whole() {
            hint.radius_px + self.surround_px + hint.smear_px / 2.0
        } else {
            self.inner_window_px(hint.radius_px)
        }
    }

    /// Radius of a window that keeps away from the rim of a target, px.
    pub(super) fn inner_window_px(&self, radius_px: f64) -> f64 {
        (self.window_share * radius_px).min(radius_px - self.rim_px).max(LEAST_WINDOW_PX)
    }
}
