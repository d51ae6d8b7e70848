//! Locates the centre of a point-symmetric target to a few thousandths of a pixel: the picture is laid
//! over its own half-turn about the sought centre. Method, error budget and papers: `docs/methods/locate.md`.
//!
//! Needs no template, so nothing can drift; rotation, scale, slant and straight motion blur keep the symmetry.

mod circle;
mod coarse;
mod fit;
mod ground;
mod hint;
mod kind;
mod normal;
mod opposite;
mod outline;
mod pairs;
mod pattern;
mod shape;
mod soft;
mod window;

pub use circle::CirclePose;
pub use hint::TargetHint;
pub use shape::{Smear, TargetShape, target_shape};

pub(crate) use fit::greatest_u;

use crate::error::{TargetsError, require_all};
use filmgauge_quantities::{GreyView, PixelCov, PixelPoint, TargetKind};
use outline::Outline;

/// Smallest radius of a target that can be located, px.
pub(crate) const LEAST_RADIUS_PX: f64 = 3.0;

/// Settings of [`locate`].
#[derive(Debug, Clone, PartialEq)]
pub struct LocateOptions {
    /// Radius of the window as a share of the target's radius; 0.3 to 1.
    pub window_share: f64,
    /// Least distance of the window from the target's rim, px, so that the background stays out; 0 or more.
    pub rim_px: f64,
    /// How far the window reaches beyond the outer edge of a disc or ring given as such, px; 1 to 100.
    pub surround_px: f64,
    /// How far from the given place the centre is sought before the fine search, px; 0 to 10.
    pub search_px: f64,
    /// Most rounds of the fine search; 1 or more.
    pub most_iterations: u32,
    /// The fine search ends when a step is shorter than this, px; above 0.
    pub stop_px: f64,
    /// Pixels at or above this share of full scale count as saturated and are left out in pairs; 0.1 to 1.
    pub saturation_share: f64,
    /// Greatest share of the window that may be saturated; 0 to 1.
    pub greatest_saturated_share: f64,
    /// Least contrast (mean of the bright pixels less mean of the dark) as a share of full scale; 0 or more.
    pub least_contrast_share: f64,
    /// Standard uncertainty per axis that the picture itself adds to every centre, px; 0 to 1. Coding with loss moves whole
    /// pieces of the picture, which no single frame can show: see `docs/methods/follow.md` for measured figures.
    pub picture_u_px: f64,
    /// Whether ground and target may shade each in its own way, also with a bend: then neither moves the centre of a disc or
    /// ring on uneven ground. On plain ground it costs a small target some of its precision.
    pub ground_may_differ: bool,
    /// Noise is never taken to be below this, grey levels; the default is that of rounding to whole levels, √(1/12).
    pub noise_floor_grey: f64,
    /// Residuals above this share of the contrast and above [`Self::greatest_residual_ratio`] are no target; above 0.
    pub greatest_residual_share: f64,
    /// Greatest residual as a multiple of the noise seen between neighbouring pixels; 1 or more.
    pub greatest_residual_ratio: f64,
    /// Greatest standard uncertainty of the centre along its worst direction, px; above 0.
    pub greatest_u_px: f64,
}

impl Default for LocateOptions {
    fn default() -> Self {
        Self {
            window_share: 0.85,
            rim_px: 1.5,
            surround_px: 3.0,
            search_px: 1.5,
            most_iterations: 20,
            stop_px: 1e-4,
            saturation_share: 0.98,
            greatest_saturated_share: 0.6,
            least_contrast_share: 0.02,
            picture_u_px: 0.0,
            ground_may_differ: false,
            noise_floor_grey: 0.288_675,
            greatest_residual_share: 0.08,
            greatest_residual_ratio: 2.0,
            greatest_u_px: 0.5,
        }
    }
}

impl LocateOptions {
    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`TargetsError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), TargetsError> {
        const ABOVE_0: std::ops::RangeInclusive<f64> = f64::MIN_POSITIVE..=1e9;
        let (share, above) = ("it must be 0 to 1", "it must be above 0");
        require_all(&[
            ("window_share", self.window_share, 0.3..=1.0, "it must be 0.3 to 1"),
            ("rim_px", self.rim_px, 0.0..=100.0, "it must be 0 to 100 px"),
            ("surround_px", self.surround_px, 1.0..=100.0, "it must be 1 to 100 px"),
            ("search_px", self.search_px, 0.0..=10.0, "it must be 0 to 10 px"),
            ("most_iterations", f64::from(self.most_iterations), 1.0..=1e6, "it must be 1 to a million"),
            ("stop_px", self.stop_px, ABOVE_0, above),
            ("saturation_share", self.saturation_share, 0.1..=1.0, "it must be 0.1 to 1"),
            ("greatest_saturated_share", self.greatest_saturated_share, 0.0..=1.0, share),
            ("least_contrast_share", self.least_contrast_share, 0.0..=1.0, share),
            ("picture_u_px", self.picture_u_px, 0.0..=1.0, "it must be 0 to 1 px"),
            ("noise_floor_grey", self.noise_floor_grey, ABOVE_0, above),
            ("greatest_residual_share", self.greatest_residual_share, ABOVE_0, above),
            ("greatest_residual_ratio", self.greatest_residual_ratio, 1.0..=1e9, "it must be 1 or more"),
            ("greatest_u_px", self.greatest_u_px, ABOVE_0, above),
        ])
    }
}

/// A located centre.
#[derive(Debug, Clone, PartialEq)]
pub struct Located {
    /// The centre of symmetry.
    pub centre: PixelPoint,
    /// Its covariance, from the residual and from what the picture itself adds; wider where the residual has structure.
    pub cov: PixelCov,
    /// Mean of the window's bright pixels less mean of its dark ones, grey levels.
    pub contrast: f64,
    /// What the half-turn leaves unexplained, as the standard deviation of one pixel, grey levels.
    pub residual: f64,
    /// Noise of one pixel as seen between neighbours, which asymmetry does not enter, grey levels.
    pub noise: f64,
    /// Rounds of the fine search.
    pub iterations: u32,
    /// Share of the window that is saturated, 0 to 1.
    pub saturated_share: f64,
    /// How many times structure in the residual widened the variance; 1 where there is none.
    pub widening: f64,
    /// Squared gradient per pixel over squared contrast, px⁻²: falls as the picture blurs.
    pub(crate) sharpness: f64,
}

/// Why there is no centre here. A value with a reason, not a fault of the program.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LocateFailure {
    /// The window does not lie wholly in the picture.
    #[error("the target's window is not wholly in the picture")]
    OutOfView,
    /// The target is too small to carry a centre.
    #[error("a radius of {radius_px:.1} px is below the least of {LEAST_RADIUS_PX:.0} px")]
    TooSmall {
        /// Radius as given, px.
        radius_px: f64,
    },
    /// The target is seen edge on.
    #[error("the target is seen edge on; no centre can be read from it")]
    EdgeOn,
    /// Too little contrast, or edges in one direction only.
    #[error(
        "contrast {contrast:.1} grey at noise {noise:.1} grey, or its edges, cannot fix a centre (least {least:.1})"
    )]
    NoContrast {
        /// Contrast, grey levels.
        contrast: f64,
        /// Noise of one pixel, grey levels.
        noise: f64,
        /// Least contrast asked for, grey levels.
        least: f64,
    },
    /// Too much of the window is saturated.
    #[error("{:.0} % of the window is saturated", share * 100.0)]
    Saturated {
        /// Saturated share of the window, 0 to 1.
        share: f64,
    },
    /// The fine search did not settle near the given place.
    #[error("the search for the centre did not settle near the given place")]
    NoConvergence,
    /// The picture is not its own half-turn.
    #[error("the picture is not point-symmetric: residual {residual:.1} grey at noise {noise:.1} grey")]
    NotSymmetric {
        /// Residual of one pixel, grey levels.
        residual: f64,
        /// Noise of one pixel, grey levels.
        noise: f64,
    },
    /// Something else than the target is there.
    #[error("what is there does not look like a {}", kind.word())]
    NotOfKind {
        /// Kind as given.
        kind: TargetKind,
    },
}

/// The centre of the point-symmetric target of radius `radius_px` (3 px or more) near `near`.
///
/// The window lies inside that radius. A filled disc has its only edge at the rim: pass 1.5 times its radius, if its
/// surroundings are plain that far out.
///
/// # Errors
/// [`LocateFailure`] says why there is no centre to be had here.
pub fn locate(
    view: &GreyView,
    near: PixelPoint,
    radius_px: f64,
    options: &LocateOptions,
) -> Result<Located, LocateFailure> {
    if radius_px.is_nan() || radius_px < LEAST_RADIUS_PX {
        return Err(LocateFailure::TooSmall { radius_px });
    }
    within(view, near, Outline::round(options.inner_window_px(radius_px)), options)
}

/// The centre of the target of a known kind near `near`.
///
/// As [`locate`], and besides: the window suits the kind and the plate's slant, what is there must look like the kind, and
/// the middle of a circle's picture is moved to the picture of its middle where the plate's pose is given.
///
/// # Errors
/// [`LocateFailure`] says why there is no centre to be had here.
pub fn locate_target(
    view: &GreyView,
    near: PixelPoint,
    hint: &TargetHint,
    options: &LocateOptions,
) -> Result<Located, LocateFailure> {
    let radius_px = hint.radius_px;
    if radius_px.is_nan() || radius_px < LEAST_RADIUS_PX {
        return Err(LocateFailure::TooSmall { radius_px });
    }
    let located = within(view, near, hint.outline(near, options)?, options)?;
    if !kind::is_of_kind(view, &located, hint) {
        return Err(LocateFailure::NotOfKind { kind: hint.kind });
    }
    let Some(pose) = &hint.pose else { return Ok(located) };
    let (centre, doubt) = pose.middle_of(located.centre);
    let cov = PixelCov {
        xx: located.cov.xx + doubt.xx,
        xy: located.cov.xy + doubt.xy,
        yy: located.cov.yy + doubt.yy,
    };
    Ok(Located { centre, cov, ..located })
}

fn within(
    view: &GreyView,
    near: PixelPoint,
    outline: Outline,
    options: &LocateOptions,
) -> Result<Located, LocateFailure> {
    let window = window::Window::cut(view, near, outline, options)?;
    let levels = window.levels(near, options)?;
    let start = window.coarse_centre(options.search_px);
    fit::settle(&window, start, &levels, options)
}

#[cfg(test)]
mod ground_tests;
#[cfg(test)]
mod picture_tests;
#[cfg(test)]
mod tests;
