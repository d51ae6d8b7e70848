//! Why a texture patch cannot be taken or found. A value with a reason, not a fault of the program.

/// Why there is no match, or no patch to match with.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TextureFailure {
    /// The patch is too small, too large, or not of odd sides.
    #[error("a patch of {width} x {height} px cannot be matched: give odd sides of 7 to 401 px")]
    Size {
        /// Width as given, px.
        width: usize,
        /// Height as given, px.
        height: usize,
    },
    /// A place or shape given is not finite, or folds the patch over.
    #[error(
        "the place given is not a place: its numbers must be finite and its shape must not fold the patch"
    )]
    Guess,
    /// The patch has nothing to hold on to, at least in one direction.
    #[error(
        "the patch has no texture to hold on to: contrast {contrast:.1} grey at noise {noise:.1} grey leaves its place \
         uncertain by {u_px:.2} px along its worst direction; choose a place with marks in two directions"
    )]
    NoTexture {
        /// Standard deviation of the patch's levels, grey.
        contrast: f64,
        /// Noise of one pixel, grey; where a single frame is all there is, an upper estimate.
        noise: f64,
        /// Standard uncertainty along the worst direction, px; infinite where nothing holds it.
        u_px: f64,
    },
    /// Too much is saturated or hidden.
    #[error("{:.0} % of the patch is saturated or hidden", share * 100.0)]
    Masked {
        /// Share of the patch left out, 0 to 1.
        share: f64,
    },
    /// The patch, wholly or in part, is outside the picture.
    #[error("the patch left the picture at ({x:.1}, {y:.1})")]
    LeftPicture {
        /// Its centre, px.
        x: f64,
        /// Its centre, px.
        y: f64,
    },
    /// The search ran away from the guess or the shape collapsed.
    #[error("the search ran away from its start ({moved_px:.1} px, or out of shape)")]
    Diverged {
        /// Way from the guess, px.
        moved_px: f64,
    },
    /// The search was still moving after the most rounds allowed.
    #[error("the search did not settle in {iterations} rounds; its last step was {step_px:.4} px")]
    NotSettled {
        /// Rounds made.
        iterations: u32,
        /// Last step, px.
        step_px: f64,
    },
    /// What is there is not the patch.
    #[error("likeness {zncc:.2} is below the least of {least:.2}")]
    Unlike {
        /// Zero-mean normalised correlation, -1 to 1.
        zncc: f64,
        /// Least asked for.
        least: f64,
    },
    /// The match is there but too uncertain.
    #[error("standard uncertainty {u_px:.2} px is above the greatest of {greatest_px:.2} px")]
    Uncertain {
        /// Standard uncertainty along the worst direction, px.
        u_px: f64,
        /// Greatest allowed, px.
        greatest_px: f64,
    },
    /// A renewed patch would have moved against the original.
    #[error(
        "the renewed patch lies {moved_px:.4} px from the original, more than {bound_px:.4} px; the original is kept"
    )]
    Drift {
        /// Distance from the original's place, px.
        moved_px: f64,
        /// Greatest allowed, px.
        bound_px: f64,
    },
}
