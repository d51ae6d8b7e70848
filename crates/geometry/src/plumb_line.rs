//! Radial distortion from edges that are known to be straight, in one frame: what bends them is the lens (Brown 1971,
//! Photogrammetric Engineering 37:855-866, the plumb-line method). Limits: `docs/methods/lens.md`.

mod fit;
#[cfg(test)]
mod tests;

use crate::{GeometryError, Lens, LensField};
use filmgauge_quantities::PixelPoint;

/// How well the middle of a picture is taken to be the centre of its lens' distortion: a standard uncertainty, as a share of
/// the picture's width. Common practice, no source; a centre that was calibrated is known better.
pub const CENTRE_U_SHARE: f64 = 0.02;

/// How many radial terms are free.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RadialChoice {
    /// k1 alone, and k1 with k2; the least Bayesian information criterion decides.
    ByEvidence,
    /// k1 alone.
    K1,
    /// k1 and k2.
    K1K2,
}

/// Settings of [`fit_plumb_lines`].
#[derive(Debug, Clone, PartialEq)]
pub struct PlumbLineOptions {
    /// Width and height of the picture, px.
    pub size_px: (u32, u32),
    /// Principal point; distortion is taken to be about it. The middle of the picture where nothing better is known.
    pub centre: PixelPoint,
    /// Standard uncertainty of that along each axis, px; 0 or more. It goes into [`PlumbLineFit::cov_with_centre`] only.
    pub centre_u_px: f64,
    /// Focal length that the terms are stated for, px; above 0. One frame of straight edges does not tell it, and ideal pixels
    /// do not depend on it.
    pub focal_px: f64,
    /// Terms.
    pub terms: RadialChoice,
    /// Fewest edges; 3 or more.
    pub fewest_edges: usize,
    /// Fewest points on an edge; 4 or more.
    pub fewest_points: usize,
    /// Greatest standard uncertainty of the distortion at the outermost point, px; above 0.
    pub greatest_u_px: f64,
}

impl PlumbLineOptions {
    /// The defaults for a picture of `size_px` (width, height): its middle, known to [`CENTRE_U_SHARE`] of its width, and its
    /// width as focal length.
    #[must_use]
    pub fn of(size_px: (u32, u32)) -> Self {
        let (width, height) = (f64::from(size_px.0), f64::from(size_px.1));
        Self {
            size_px,
            centre: PixelPoint::new((width - 1.0) / 2.0, (height - 1.0) / 2.0),
            centre_u_px: CENTRE_U_SHARE * width,
            focal_px: width,
            terms: RadialChoice::ByEvidence,
            fewest_edges: 3,
            fewest_points: 5,
            greatest_u_px: 1.0,
        }
    }

    /// Whether every setting is in its range.
    ///
    /// # Errors
    /// [`GeometryError::Setting`] names the first that is not.
    pub fn check(&self) -> Result<(), GeometryError> {
        let above = f64::MIN_POSITIVE;
        for (setting, value, range, rule) in [
            ("centre", self.centre.x, -1e6..=1e6, "it must be a place in the picture"),
            ("centre", self.centre.y, -1e6..=1e6, "it must be a place in the picture"),
            ("centre_u_px", self.centre_u_px, 0.0..=1e5, "it must be 0 px or more"),
            ("focal_px", self.focal_px, above..=1e7, "it must be above 0 px"),
            ("fewest_edges", self.fewest_edges as f64, 3.0..=1e6, "it must be 3 or more"),
            ("fewest_points", self.fewest_points as f64, 4.0..=1e6, "it must be 4 or more"),
            ("greatest_u_px", self.greatest_u_px, above..=1e6, "it must be above 0 px"),
        ] {
            if !range.contains(&value) {
                return Err(GeometryError::Setting { setting, value, rule });
            }
        }
        Ok(())
    }
}

/// Distortion that makes the edges straight.
#[derive(Debug, Clone, PartialEq)]
pub struct PlumbLineFit {
    /// The lens: centre and focal length as given, k1 and k2 as found. Near its centre nothing is magnified.
    pub lens: Lens,
    /// Whether k2 was free.
    pub has_k2: bool,
    /// Covariance of k1 and k2; the row and column of k2 are 0 where it was not free. It holds for the centre as given.
    pub cov: [[f64; 2]; 2],
    /// Covariance of cx, cy, k1 and k2 with the doubt about the centre, px and 1: what another centre does to the terms goes
    /// with it.
    pub cov_with_centre: [[f64; 4]; 4],
    /// Correlation of what is left of neighbouring points of an edge, -1 to 1. Where it is above what chance gives, points
    /// count as fewer: the edges are not quite straight, or a term is missing.
    pub neighbour_correlation: f64,
    /// Root mean square distance of points from their edge's line, stored px.
    pub rms_px: f64,
    /// The same before correction, px.
    pub rms_before_px: f64,
    /// The same after correction for each edge, px, in the order given.
    pub edge_rms_px: Vec<f64>,
    /// Of each point, where it was seen less where its edge's line puts it, stored px; in the order given.
    pub away_px: Vec<Vec<[f64; 2]>>,
    /// Where the lens was calibrated.
    pub field: LensField,
    /// Bayesian information criterion with k1 and k2 less that with k1 alone: below 0 speaks for k2. `None` where the terms
    /// were given.
    pub bic_of_k2: Option<f64>,
}

/// Why edges gave no lens. A value with a reason, not a fault of the program.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlumbLineFailure {
    /// Too few edges.
    #[error(
        "{n} straight edges are too few; mark {fewest} or more that run well past the middle of the picture"
    )]
    TooFewEdges {
        /// Edges given.
        n: usize,
        /// Fewest that will do.
        fewest: usize,
    },
    /// Too few points on an edge.
    #[error("edge {edge} (from 0) has {n} points; mark {fewest} or more all along it")]
    TooFewPoints {
        /// The edge, counted from 0.
        edge: usize,
        /// Its points.
        n: usize,
        /// Fewest that will do.
        fewest: usize,
    },
    /// A point is no place, or all points of an edge are one.
    #[error("edge {edge} (from 0) is no line of points; mark it again")]
    NoEdge {
        /// The edge, counted from 0.
        edge: usize,
    },
    /// The edges do not show the distortion.
    #[error(
        "the edges do not tell the distortion: ± {u_px:.1} px at the outermost point; mark edges far from the middle of the picture, \
         in several directions"
    )]
    Undetermined {
        /// Standard uncertainty of the distortion at the outermost point, px.
        u_px: f64,
    },
    /// No distortion makes the edges straight.
    #[error("no radial distortion makes the edges straight; check that they are straight in truth")]
    NoFit,
}

/// Distortion from `edges`: of each, points along a line that is straight in truth, in their order along it, stored px.
///
/// The distance of each point from its edge's line is taken among ideal pixels and weighed with the local magnification, so
/// that it counts as the noise of a stored pixel; the magnification at the centre is kept at 1, or shrinking the picture would
/// straighten everything.
///
/// # Errors
/// [`GeometryError::Setting`] for an option out of range; [`GeometryError::PlumbLine`] with the reason where the edges do not
/// give a lens.
pub fn fit_plumb_lines(
    edges: &[Vec<PixelPoint>],
    options: &PlumbLineOptions,
) -> Result<PlumbLineFit, GeometryError> {
    options.check()?;
    Ok(fit::fitted(edges, options)?)
}
