//! Settings of texture patches: what may change in the picture, how it is interpolated, what is refused.

use crate::error::{TargetsError, require_all};

/// What the picture of a patch may do between frames, besides moving.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Warp {
    /// Move only.
    Translation,
    /// Move, turn and grow.
    Similarity,
    /// Move, turn, grow and slant: a plane patch seen from afar.
    #[default]
    Affine,
}

impl Warp {
    /// Number of unknowns.
    pub(super) fn n_unknowns(self) -> usize {
        match self {
            Self::Translation => 2,
            Self::Similarity => 4,
            Self::Affine => 6,
        }
    }
}

/// The B-spline that carries grey levels between pixels. Gradients come from the same spline.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Interpolation {
    /// Four taps an axis: fast.
    Cubic,
    /// Six taps an axis: least bias.
    #[default]
    Quintic,
}

/// Settings that a [`super::Texture`] is made with.
#[derive(Debug, Clone, PartialEq)]
pub struct TextureOptions {
    /// What the patch may do besides moving.
    pub warp: Warp,
    /// The spline.
    pub interpolation: Interpolation,
    /// Whether sharpness may change (focus, smear, size in the picture) without moving the result. Costs three
    /// degrees of freedom and no time.
    pub blur_change: bool,
    /// Pixels at or above this share of full scale count as saturated and are left out; 0.1 to 1.
    pub saturation_share: f64,
    /// Greatest share of the patch that may be left out; 0 to 0.9.
    pub greatest_masked_share: f64,
    /// Noise is never taken to be below this, grey levels; the default is that of rounding to whole levels, √(1/12).
    pub noise_floor_grey: f64,
    /// A patch whose place would be less certain than this along some direction, px, has no texture; above 0.
    pub greatest_u_px: f64,
}

impl Default for TextureOptions {
    fn default() -> Self {
        Self {
            warp: Warp::Affine,
            interpolation: Interpolation::Quintic,
            blur_change: true,
            saturation_share: 0.98,
            greatest_masked_share: 0.5,
            noise_floor_grey: 0.288_675,
            greatest_u_px: 0.2,
        }
    }
}

impl TextureOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        require_all(&[
            ("saturation_share", self.saturation_share, 0.1..=1.0, "it must be 0.1 to 1"),
            ("greatest_masked_share", self.greatest_masked_share, 0.0..=0.9, "it must be 0 to 0.9"),
            ("noise_floor_grey", self.noise_floor_grey, f64::MIN_POSITIVE..=1e9, "it must be above 0"),
            ("greatest_u_px", self.greatest_u_px, f64::MIN_POSITIVE..=1e9, "it must be above 0"),
        ])
    }
}

/// Settings of [`super::match_texture`].
#[derive(Debug, Clone, PartialEq)]
pub struct MatchOptions {
    /// Most rounds of the search; 1 or more.
    pub most_iterations: u32,
    /// The search ends when what is left of the way is shorter than this, px (root mean square over the patch); above 0.
    pub stop_px: f64,
    /// The centre may end up at most this far from the guess, px; above 0.
    pub greatest_move_px: f64,
    /// Least likeness (zero-mean normalised correlation); 0 to 1.
    pub least_zncc: f64,
    /// Greatest standard uncertainty of the centre along its worst direction, px; above 0.
    pub greatest_u_px: f64,
}

impl Default for MatchOptions {
    fn default() -> Self {
        Self {
            most_iterations: 30,
            stop_px: 1e-4,
            greatest_move_px: 4.0,
            least_zncc: 0.6,
            greatest_u_px: 0.5,
        }
    }
}

impl MatchOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        const ABOVE_0: std::ops::RangeInclusive<f64> = f64::MIN_POSITIVE..=1e9;
        let above = "it must be above 0";
        require_all(&[
            ("most_iterations", f64::from(self.most_iterations), 1.0..=1e6, "it must be 1 to a million"),
            ("stop_px", self.stop_px, ABOVE_0, above),
            ("greatest_move_px", self.greatest_move_px, ABOVE_0, above),
            ("least_zncc", self.least_zncc, 0.0..=1.0, "it must be 0 to 1"),
            ("greatest_u_px", self.greatest_u_px, ABOVE_0, above),
        ])
    }
}
