//! Settings of following, each with its unit and range.

use crate::error::{TargetsError, require};
use crate::locate::LocateOptions;

/// Settings of [`crate::Follower`].
#[derive(Debug, Clone, PartialEq)]
pub struct FollowOptions {
    /// How a centre is located once the target is roughly found.
    pub locate: LocateOptions,
    /// Half-width of the search around the predicted place when the prediction is good, px; 1 to 20.
    pub least_gate_px: f64,
    /// Half-width of the search in the first frames after the start, while the target's speed is unknown, px; 1 to 60.
    pub first_gate_px: f64,
    /// Half-width beyond which the search never grows, px; at least the first gate, up to 100.
    pub greatest_gate_px: f64,
    /// Standard deviation of the target's acceleration in the picture, px per frame²; above 0, up to 20.
    pub acceleration_px: f64,
    /// Least correlation with the start's picture, 0 to 1.
    pub least_zncc: f64,
    /// A second likeness elsewhere in the gate above this share of the best makes the place doubtful; 0 to 1.
    pub greatest_second_share: f64,
    /// Least contrast as a share of the contrast at the start; 0 to 1.
    pub least_contrast_ratio: f64,
    /// Greatest standard uncertainty of a mark along its worst direction, px; above 0.
    pub greatest_u_px: f64,
    /// Greatest factor by which structure in the residual may widen a mark's variance; 1 or more.
    pub greatest_widening: f64,
    /// Greatest distance from the predicted place, standard deviations; 2 or more.
    pub greatest_jump_sigmas: f64,
    /// Greatest distance of a mark from where the rest of its body puts it, px; above 0.
    pub body_tolerance_px: f64,
    /// Greatest change of a body's size in the picture since its start, as a share; 0 to 0.5.
    pub greatest_scale_change: f64,
    /// A target hidden for this many frames is sought only where its body puts it, as long as the body is seen; 1 or more.
    pub coast_frames: u32,
    /// A rise of the frame's mean level by this share of full scale is a flash; above 0, up to 1.
    pub flash_share: f64,
    /// Sharpness below this share of the start's is blur; 0 to 1.
    pub blur_share: f64,
}

impl Default for FollowOptions {
    fn default() -> Self {
        Self {
            locate: LocateOptions::default(),
            least_gate_px: 3.0,
            first_gate_px: 10.0,
            greatest_gate_px: 24.0,
            acceleration_px: 0.3,
            least_zncc: 0.6,
            greatest_second_share: 0.92,
            least_contrast_ratio: 0.3,
            greatest_u_px: 0.15,
            greatest_widening: 6.0,
            greatest_jump_sigmas: 6.0,
            body_tolerance_px: 1.0,
            greatest_scale_change: 0.03,
            coast_frames: 3,
            flash_share: 0.08,
            blur_share: 0.35,
        }
    }
}

impl FollowOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        self.locate.check()?;
        self.check_gates()?;
        let share = |v: f64| (0.0..=1.0).contains(&v);
        let shares = [
            ("least_zncc", self.least_zncc),
            ("greatest_second_share", self.greatest_second_share),
            ("least_contrast_ratio", self.least_contrast_ratio),
            ("flash_share", self.flash_share),
            ("blur_share", self.blur_share),
        ];
        for (name, value) in shares {
            require(share(value), name, value, "it must be 0 to 1")?;
        }
        let above = |v: f64| v > 0.0 && v.is_finite();
        require(above(self.greatest_u_px), "greatest_u_px", self.greatest_u_px, "it must be above 0 px")?;
        require(
            self.greatest_widening >= 1.0,
            "greatest_widening",
            self.greatest_widening,
            "it must be 1 or more",
        )?;
        let jump = self.greatest_jump_sigmas;
        require(jump >= 2.0, "greatest_jump_sigmas", jump, "it must be 2 or more")?;
        let tolerance = self.body_tolerance_px;
        require(above(tolerance), "body_tolerance_px", tolerance, "it must be above 0 px")?;
        let change = self.greatest_scale_change;
        require((0.0..=0.5).contains(&change), "greatest_scale_change", change, "it must be 0 to 0.5")?;
        require(self.coast_frames > 0, "coast_frames", 0.0, "it must be 1 or more")
    }

    fn check_gates(&self) -> Result<(), TargetsError> {
        let (least, first, greatest) = (self.least_gate_px, self.first_gate_px, self.greatest_gate_px);
        require((1.0..=20.0).contains(&least), "least_gate_px", least, "it must be 1 to 20 px")?;
        require((1.0..=60.0).contains(&first), "first_gate_px", first, "it must be 1 to 60 px")?;
        require(
            greatest >= first.max(least) && greatest <= 100.0,
            "greatest_gate_px",
            greatest,
            "it must be at least first_gate_px and least_gate_px, up to 100 px",
        )?;
        let acceleration = self.acceleration_px;
        require(
            acceleration > 0.0 && acceleration <= 20.0,
            "acceleration_px",
            acceleration,
            "it must be above 0, up to 20 px per frame²",
        )
    }
}
