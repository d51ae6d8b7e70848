//! Settings of following, each with its unit and range.

use crate::error::{TargetsError, require_all};
use crate::locate::LocateOptions;
use crate::texture::MatchOptions;

/// Settings of [`crate::Follower`].
#[derive(Debug, Clone, PartialEq)]
pub struct FollowOptions {
    /// How a centre is located once the target is roughly found. What it says of the picture itself
    /// ([`LocateOptions::picture_u_px`]) holds for patches of texture, too.
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
    /// Greatest standard uncertainty of a mark along its worst direction, px; above 0, up to 10.
    pub greatest_u_px: f64,
    /// Greatest factor by which structure in the residual may widen a mark's variance; 1 or more.
    pub greatest_widening: f64,
    /// Greatest distance from the predicted place, standard deviations; 2 or more.
    pub greatest_jump_sigmas: f64,
    /// Greatest distance of a mark from where the rest of its body puts it, px; 0.1 to 50.
    pub body_tolerance_px: f64,
    /// Greatest change of a body's size in the picture since its start, as a share; 0 to 0.5.
    pub greatest_scale_change: f64,
    /// How a patch of natural texture is matched once it is roughly found.
    pub texture: MatchOptions,
    /// Half-width beyond which the search for a lost target never grows, px; 10 to 1000.
    pub greatest_reach_px: f64,
    /// By how much the search for a lost target grows with every frame, px: more than the fastest target's way from
    /// frame to frame; 1 to 500.
    pub reach_growth_px: f64,
    /// Frames in a row in which a target found again far from its prediction must keep to a straight way before it is
    /// believed; 2 to 20.
    pub confirm_frames: u32,
    /// What is left of the trust of a target that was found again by itself, without its body; 0 to 1.
    pub alone_trust: f64,
    /// Frames of which small cuts are kept for the look back after a gap; 4 to 1000.
    pub recent_frames: u32,
    /// Greatest distance between the places that the way forward and the look back give, px; above 0, up to 10.
    pub pass_tolerance_px: f64,
    /// Frames on either side that say where a target lies on its body at one moment; 3 to 200.
    pub layout_frames: u32,
    /// A mark whose squared distance from where its body puts it, in standard uncertainties, is above this contradicts
    /// its body; 9 or more. 25 is passed by chance once in 270 000 marks (χ², 2 degrees of freedom).
    pub greatest_rigidity: f64,
    /// Smaller distances than this never contradict, px: bodies flex; 0 to 10.
    pub flexing_px: f64,
    /// Greatest standard uncertainty of an inferred mark along its worst direction, px; 0 (none inferred) to 50.
    pub greatest_inferred_u_px: f64,
    /// A target hidden for this many frames is sought only where its body puts it, as long as the body is seen; 1 or more.
    pub coast_frames: u32,
    /// A rise of the frame's mean level by this share of full scale is a flash; 0 to 1.
    pub flash_share: f64,
    /// Sharpness below this share of the start's is blur; 0 to 1.
    pub blur_share: f64,
}

impl Default for FollowOptions {
    fn default() -> Self {
        Self {
            // The likeness is greatest on the nearest whole pixel.
            locate: LocateOptions { search_px: 1.0, ..LocateOptions::default() },
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
            texture: MatchOptions::default(),
            greatest_reach_px: 160.0,
            reach_growth_px: 75.0,
            confirm_frames: 3,
            alone_trust: 0.6,
            recent_frames: 90,
            pass_tolerance_px: 0.5,
            layout_frames: 15,
            greatest_rigidity: 25.0,
            flexing_px: 0.1,
            greatest_inferred_u_px: 1.0,
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
        self.texture.check()?;
        self.check_search()?;
        self.check_bodies()
    }

    /// Settings of the search in one frame and of what is believed there.
    fn check_search(&self) -> Result<(), TargetsError> {
        let share = "it must be 0 to 1";
        require_all(&[
            ("least_gate_px", self.least_gate_px, 1.0..=20.0, "it must be 1 to 20 px"),
            ("first_gate_px", self.first_gate_px, 1.0..=60.0, "it must be 1 to 60 px"),
            (
                "greatest_gate_px",
                self.greatest_gate_px,
                self.first_gate_px.max(self.least_gate_px)..=100.0,
                "it must be at least first_gate_px and least_gate_px, up to 100 px",
            ),
            (
                "acceleration_px",
                self.acceleration_px,
                f64::MIN_POSITIVE..=20.0,
                "it must be above 0, up to 20 px per frame²",
            ),
            ("least_zncc", self.least_zncc, 0.0..=1.0, share),
            ("greatest_second_share", self.greatest_second_share, 0.0..=1.0, share),
            ("least_contrast_ratio", self.least_contrast_ratio, 0.0..=1.0, share),
            (
                "greatest_u_px",
                self.greatest_u_px,
                f64::MIN_POSITIVE..=10.0,
                "it must be above 0, up to 10 px",
            ),
            ("greatest_widening", self.greatest_widening, 1.0..=1e6, "it must be 1 or more"),
            ("greatest_jump_sigmas", self.greatest_jump_sigmas, 2.0..=1e6, "it must be 2 or more"),
            ("flash_share", self.flash_share, 0.0..=1.0, share),
            ("blur_share", self.blur_share, 0.0..=1.0, share),
            ("greatest_reach_px", self.greatest_reach_px, 10.0..=1000.0, "it must be 10 to 1000 px"),
            ("reach_growth_px", self.reach_growth_px, 1.0..=500.0, "it must be 1 to 500 px"),
            ("confirm_frames", f64::from(self.confirm_frames), 2.0..=20.0, "it must be 2 to 20"),
            ("alone_trust", self.alone_trust, 0.0..=1.0, share),
            ("recent_frames", f64::from(self.recent_frames), 4.0..=1000.0, "it must be 4 to 1000"),
            (
                "pass_tolerance_px",
                self.pass_tolerance_px,
                f64::MIN_POSITIVE..=10.0,
                "it must be above 0, up to 10 px",
            ),
        ])
    }

    /// Settings of bodies.
    fn check_bodies(&self) -> Result<(), TargetsError> {
        require_all(&[
            ("body_tolerance_px", self.body_tolerance_px, 0.1..=50.0, "it must be 0.1 to 50 px"),
            ("greatest_scale_change", self.greatest_scale_change, 0.0..=0.5, "it must be 0 to 0.5"),
            ("coast_frames", f64::from(self.coast_frames), 1.0..=1e9, "it must be 1 or more"),
            ("layout_frames", f64::from(self.layout_frames), 3.0..=200.0, "it must be 3 to 200"),
            ("greatest_rigidity", self.greatest_rigidity, 9.0..=1e9, "it must be 9 or more"),
            ("flexing_px", self.flexing_px, 0.0..=10.0, "it must be 0 to 10 px"),
            (
                "greatest_inferred_u_px",
                self.greatest_inferred_u_px,
                0.0..=50.0,
                "it must be 0 (none is inferred) to 50 px",
            ),
        ])
    }
}
