//! Settings of spotting.

use crate::error::{TargetsError, require, require_all};
use filmgauge_quantities::TargetKind;

/// Settings of [`super::spot`].
#[derive(Debug, Clone, PartialEq)]
pub struct SpotOptions {
    /// Kinds to look for; natural texture is not among them, see [`crate::texture_spots`].
    pub kinds: Vec<TargetKind>,
    /// Least radius of a target along its longest direction, px; 6 or more.
    pub least_radius_px: f64,
    /// Greatest radius of a target, px; above the least, up to 200.
    pub greatest_radius_px: f64,
    /// Least contrast of a target as a share of full scale; above 0, up to 1.
    pub least_contrast_share: f64,
    /// Least score, 0 to 1: the share of the variance that is the kind's pattern.
    pub least_score: f64,
    /// Least ratio of the rim's shortest radius to its longest; 0.3 to 1. The default is a slant of 45°.
    pub least_axis_ratio: f64,
    /// Most targets to return; 1 or more.
    pub most: usize,
    /// Takes every crossing of two edges for a quadrant, whether or not its pattern ends at a rim: corners of a
    /// chessboard. Radius and axis ratio then say nothing of a rim.
    pub pattern_may_continue: bool,
}

impl Default for SpotOptions {
    fn default() -> Self {
        Self {
            kinds: vec![TargetKind::Quadrant, TargetKind::Disc, TargetKind::Ring, TargetKind::Cross],
            least_radius_px: 6.0,
            greatest_radius_px: 80.0,
            least_contrast_share: 0.06,
            least_score: 0.7,
            least_axis_ratio: std::f64::consts::FRAC_1_SQRT_2,
            most: 200,
            pattern_may_continue: false,
        }
    }
}

impl SpotOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        let (least, greatest) = (self.least_radius_px, self.greatest_radius_px);
        require_all(&[
            ("least_radius_px", least, 6.0..=200.0, "it must be 6 to 200 px"),
            ("greatest_radius_px", greatest, least..=200.0, "it must be above least_radius_px, up to 200 px"),
            (
                "least_contrast_share",
                self.least_contrast_share,
                f64::MIN_POSITIVE..=1.0,
                "it must be above 0, up to 1",
            ),
            ("least_score", self.least_score, 0.0..=1.0, "it must be 0 to 1"),
            ("least_axis_ratio", self.least_axis_ratio, 0.3..=1.0, "it must be 0.3 to 1"),
        ])?;
        require(!self.kinds.is_empty(), "kinds", 0.0, "it must name one kind or more")?;
        let has_patch = self.kinds.contains(&TargetKind::Patch);
        require(!has_patch, "kinds", 0.0, "natural texture is sought by texture_spots")?;
        require(self.most > 0, "most", 0.0, "it must be 1 or more")
    }
}
