//! One choice of terms fitted to the views: plain least squares, then with Huber's loss at the scale that the residuals show.

use super::bundle::{Problem, Settled, State, settle, weight};
use super::options::LensFitOptions;
use super::pose::pictured;
use filmgauge_quantities::PixelPoint;

/// Rounds of clip and fit; the scale changes by far less than a hundredth after three.
const CLIP_ROUNDS: usize = 4;
/// Clips below this are rounding, px.
const LEAST_CLIP_PX: f64 = 1e-7;

/// The views as the bundle takes them.
pub(super) struct Seen<'a> {
    pub(super) grid: &'a [[f64; 2]],
    pub(super) views: Vec<&'a [PixelPoint]>,
}

/// A settled bundle and the clip it ended with.
pub(super) struct Fit {
    pub(super) settled: Settled,
    pub(super) clip_px: Option<f64>,
    pub(super) free: [bool; 9],
}

impl Seen<'_> {
    pub(super) fn problem(&self, free: [bool; 9], clip_px: Option<f64>, most_rounds: u32) -> Problem<'_> {
        Problem { grid: self.grid, views: self.views.clone(), free, clip_px, most_rounds }
    }

    /// Fits from a start; `None` where the start puts a corner behind the camera.
    pub(super) fn fit(&self, start: &State, free: [bool; 9], options: &LensFitOptions) -> Option<Fit> {
        let mut settled = settle(&self.problem(free, None, options.most_rounds), start)?;
        let mut clip_px = None;
        for _ in 0..CLIP_ROUNDS {
            let clip = options.clip_sd * self.robust_sd(&settled.state);
            if clip < LEAST_CLIP_PX {
                break;
            }
            clip_px = Some(clip);
            settled = settle(&self.problem(free, clip_px, options.most_rounds), &settled.state)?;
        }
        Some(Fit { settled, clip_px, free })
    }

    /// Residuals of one view, px.
    pub(super) fn residuals(&self, state: &State, view: usize) -> Vec<[f64; 2]> {
        let (Some(seen), Some(pose)) = (self.views.get(view), state.poses.get(view)) else {
            return Vec::new();
        };
        let pairs = self.grid.iter().zip(*seen);
        pairs
            .filter_map(|(point, seen)| {
                let at = pictured(&state.lens, pose, *point)?;
                Some([seen.x - at.x, seen.y - at.y])
            })
            .collect()
    }

    /// Squared residuals of all corners, px².
    pub(super) fn squares(&self, state: &State) -> Vec<f64> {
        let all = (0..self.views.len()).flat_map(|view| self.residuals(state, view));
        all.map(|[dx, dy]| dx * dx + dy * dy).collect()
    }

    /// Standard deviation of one coordinate from the median distance, whose square is 2 ln 2 variances.
    fn robust_sd(&self, state: &State) -> f64 {
        let mut squares = self.squares(state);
        squares.sort_by(f64::total_cmp);
        let median = squares.get(squares.len() / 2).copied().unwrap_or(0.0);
        (median / (2.0 * std::f64::consts::LN_2)).sqrt()
    }

    /// Variance of one coordinate as clipped residuals show it, with what clipping costs (Huber 1981, Robust Statistics,
    /// section 7.6), px²; and how many corners are clipped.
    pub(super) fn variance(&self, fit: &Fit) -> (f64, usize) {
        let squares = self.squares(&fit.settled.state);
        let n_free = fit.free.iter().filter(|is_free| **is_free).count() + 6 * self.views.len();
        let to_spare = (2.0 * squares.len() as f64 - n_free as f64).max(1.0);
        let weights: Vec<f64> = squares.iter().map(|&square| weight(square, fit.clip_px)).collect();
        let sum: f64 = squares.iter().zip(&weights).map(|(square, w)| square * w * w).sum();
        // Slope of a clipped residual in the plane: none outwards, its weight across.
        let slope = |w: &f64| if *w < 1.0 { 0.5 * w } else { 1.0 };
        let slope = weights.iter().map(slope).sum::<f64>() / squares.len().max(1) as f64;
        let n_clipped = weights.iter().filter(|w| **w < 1.0).count();
        (sum / to_spare / (slope * slope), n_clipped)
    }
}
