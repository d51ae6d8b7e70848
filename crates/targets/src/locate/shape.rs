//! What a quadrant or cross looks like about its centre: directions of its edges, point spread, smear, and what such a
//! pattern leaves unexplained. For judging a mark and for an independent check of speed; the centre stays as it is.

use super::hint::TargetHint;
use super::pattern::Pattern;
use super::{LocateFailure, LocateOptions, Located};
use crate::rings::Ring;
use filmgauge_quantities::{GreyView, PixelPoint, TargetKind};
use nalgebra::{DMatrix, DVector};

const MOST_ROUNDS: usize = 30;
/// The fit ends when the sum of squares falls by less than this share.
const SETTLED_SHARE: f64 = 1e-7;
/// Change of a figure for its slope, rad or px.
const PROBE: f64 = 1e-4;
/// Least spread, px: that of the pixel's own area, √(1/12).
const LEAST_SPREAD_PX: f64 = 0.288_675;
/// Smears that are tried first, px, each in eight directions.
const FIRST_SMEARS_PX: [f64; 5] = [0.5, 2.5, 5.0, 8.0, 12.0];
/// A smear shorter than this many standard uncertainties is not told from none.
const CLEAR_SIGMAS: f64 = 3.0;
/// A pattern that explains less than this share of the levels' variance is another one.
const LEAST_EXPLAINED: f64 = 0.5;

/// The way of a target during the exposure; its sense cannot be seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Smear {
    /// Way along x, px; 0 or more.
    pub x_px: f64,
    /// Way along y, px.
    pub y_px: f64,
    /// Standard uncertainty of its length, px.
    pub u_px: f64,
}

impl Smear {
    /// Its length, px.
    #[must_use]
    pub fn length_px(&self) -> f64 {
        self.x_px.hypot(self.y_px)
    }
}

/// The shape of a quadrant or cross.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetShape {
    /// Directions of the two edges, or of the two bars, rad, 0 to π, the smaller first.
    pub edges_rad: [f64; 2],
    /// Their standard uncertainties, rad.
    pub u_edges_rad: [f64; 2],
    /// Standard deviation of the point spread without the pixel's own area, px.
    pub spread_px: f64,
    /// Way during the exposure; `None` where it is too short to be told from the point spread.
    pub smear: Option<Smear>,
    /// Half-width of a cross's bars, px.
    pub bar_half_px: Option<f64>,
    /// What the pattern leaves of one pixel, standard deviation, grey levels.
    pub residual: f64,
}

/// The shape of the quadrant or cross located there, from the pixels of its inner window.
///
/// Least squares of two crossing edges under a Gaussian and a straight smear, with level, contrast and a linear shading.
///
/// # Errors
/// [`LocateFailure::NotOfKind`] for a kind without crossing edges or where no such pattern is; others as [`super::locate`].
pub fn target_shape(
    view: &GreyView,
    located: &Located,
    hint: &TargetHint,
    options: &LocateOptions,
) -> Result<TargetShape, LocateFailure> {
    let refused = LocateFailure::NotOfKind { kind: hint.kind };
    if !matches!(hint.kind, TargetKind::Quadrant | TargetKind::Cross) {
        return Err(refused);
    }
    // The rim smears inwards by half the way.
    let radius_px = (hint.radius_px - hint.smear_px / 2.0).max(0.4 * hint.radius_px);
    let inner = TargetHint { radius_px, is_on_plain_ground: false, ..hint.clone() };
    let samples = Samples::read(view, located.centre, &inner, options)?;
    let start = first_pattern(view, located.centre, hint, &samples).ok_or_else(|| refused.clone())?;
    let fit = samples.settle(start).ok_or(LocateFailure::NoConvergence)?;
    if fit.squares > (1.0 - LEAST_EXPLAINED) * samples.variance() {
        return Err(refused);
    }
    samples.shape(&fit).ok_or(LocateFailure::NoConvergence)
}

/// Grey levels by their offsets from the centre.
struct Samples {
    offsets: Vec<[f64; 2]>,
    greys: DVector<f64>,
}

/// A pattern with what it leaves.
#[derive(Clone)]
struct Fit {
    pattern: Pattern,
    squares: f64,
    /// Contrast of the pattern, grey levels.
    height: f64,
    residuals: DVector<f64>,
}

impl Samples {
    fn read(
        view: &GreyView,
        centre: PixelPoint,
        hint: &TargetHint,
        options: &LocateOptions,
    ) -> Result<Self, LocateFailure> {
        let ceiling = options.saturation_share as f32 * view.full_scale();
        let outline = hint.outline(centre, options)?;
        let (mut offsets, mut greys) = (Vec::new(), Vec::new());
        if centre.x < outline.radius_px || centre.y < outline.radius_px {
            return Err(LocateFailure::OutOfView);
        }
        for (y, columns) in outline.rows(centre) {
            for x in columns {
                let level = view.get(x, y).ok_or(LocateFailure::OutOfView)?;
                if level < ceiling {
                    offsets.push([x as f64 - centre.x, y as f64 - centre.y]);
                    greys.push(f64::from(level));
                }
            }
        }
        if greys.len() < 30 {
            return Err(LocateFailure::Saturated { share: 1.0 });
        }
        Ok(Self { offsets, greys: DVector::from_vec(greys) })
    }

    fn variance(&self) -> f64 {
        let mean = self.greys.mean();
        self.greys.iter().map(|grey| (grey - mean).powi(2)).sum()
    }

    /// Level, contrast and shading solved for, given the shape; their columns.
    fn fit(&self, pattern: Pattern) -> Option<(Fit, DMatrix<f64>)> {
        let levels = pattern.levels(&self.offsets);
        let columns = DMatrix::from_fn(self.greys.len(), 4, |i, column| match column {
            0 => 1.0,
            1 => levels[i],
            axis => self.offsets[i][axis - 2],
        });
        let root = (columns.transpose() * &columns).cholesky()?;
        let linear = root.solve(&(columns.transpose() * &self.greys));
        let residuals = &self.greys - &columns * &linear;
        let squares = residuals.norm_squared();
        squares.is_finite().then_some((Fit { pattern, squares, height: linear[1], residuals }, columns))
    }

    /// Slopes of the model by figure of the shape, then by level, contrast and shading.
    fn jacobian(&self, fit: &Fit, linear: &DMatrix<f64>) -> DMatrix<f64> {
        let n_shape = fit.pattern.n_figures();
        let mut jacobian = DMatrix::zeros(self.greys.len(), n_shape + 4);
        for figure in 0..n_shape {
            let low = fit.pattern.moved(figure, -PROBE).levels(&self.offsets);
            let high = fit.pattern.moved(figure, PROBE).levels(&self.offsets);
            for (cell, (high, low)) in jacobian.column_mut(figure).iter_mut().zip(high.iter().zip(&low)) {
                *cell = fit.height * (high - low) / (2.0 * PROBE);
            }
        }
        jacobian.columns_mut(n_shape, 4).copy_from(linear);
        jacobian
    }

    /// Levenberg-Marquardt over the shape; the linear figures are solved anew each time.
    fn settle(&self, start: Pattern) -> Option<Fit> {
        let (mut fit, mut linear) = self.fit(start)?;
        let mut damping = 1e-3;
        for _ in 0..MOST_ROUNDS {
            let jacobian = self.jacobian(&fit, &linear);
            let normal = jacobian.transpose() * &jacobian;
            let rhs = jacobian.transpose() * &fit.residuals;
            let before = fit.squares;
            while damping < 1e6 {
                let mut damped = normal.clone();
                for i in 0..damped.nrows() {
                    damped[(i, i)] += damping * normal[(i, i)] + 1e-9 * normal.trace();
                }
                let step = damped.cholesky()?.solve(&rhs);
                let next = stepped(fit.pattern, &step).and_then(|pattern| self.fit(pattern));
                if let Some((better, columns)) = next
                    && better.squares < fit.squares
                {
                    (fit, linear) = (better, columns);
                    damping = (damping / 10.0).max(1e-9);
                    break;
                }
                damping *= 10.0;
            }
            if before - fit.squares <= SETTLED_SHARE * before {
                return Some(fit);
            }
        }
        Some(fit)
    }

    /// The shape in words, with its uncertainties.
    fn shape(&self, fit: &Fit) -> Option<TargetShape> {
        let (_, linear) = self.fit(fit.pattern)?;
        let jacobian = self.jacobian(fit, &linear);
        let dof = (self.greys.len() as f64 - jacobian.ncols() as f64).max(1.0);
        let variance = fit.squares / dof;
        let mut normal = jacobian.transpose() * &jacobian;
        // A smear of no length has no slope; a faint tie to the start keeps the rest solvable.
        let faint = 1e-9 * normal.trace() / normal.nrows() as f64;
        for i in 0..normal.nrows() {
            normal[(i, i)] += faint;
        }
        let cov = normal.try_inverse()? * variance;
        let mut edges: Vec<(f64, f64)> = (0..2)
            .map(|k| (fit.pattern.edges_rad[k].rem_euclid(std::f64::consts::PI), cov[(k, k)].max(0.0).sqrt()))
            .collect();
        edges.sort_by(|a, b| a.0.total_cmp(&b.0));
        let blur = fit.pattern.spread_px;
        Some(TargetShape {
            edges_rad: [edges[0].0, edges[1].0],
            u_edges_rad: [edges[0].1, edges[1].1],
            spread_px: (blur * blur - 1.0 / 12.0).max(0.0).sqrt(),
            smear: smear(fit.pattern.smear, &cov),
            bar_half_px: fit.pattern.bar_half_px,
            residual: variance.sqrt(),
        })
    }
}

fn smear([x, y]: [f64; 2], cov: &DMatrix<f64>) -> Option<Smear> {
    let length = x.hypot(y);
    let (ex, ey) = (x / length.max(1e-12), y / length.max(1e-12));
    let variance = ex * ex * cov[(3, 3)] + 2.0 * ex * ey * cov[(3, 4)] + ey * ey * cov[(4, 4)];
    let u_px = variance.max(0.0).sqrt();
    let sign = if x < 0.0 || (x == 0.0 && y < 0.0) { -1.0 } else { 1.0 };
    (length > CLEAR_SIGMAS * u_px && length > 1.0).then_some(Smear { x_px: sign * x, y_px: sign * y, u_px })
}

/// The next shape, each figure within its bounds and by a bounded step.
fn stepped(pattern: Pattern, step: &DVector<f64>) -> Option<Pattern> {
    let mut next = pattern;
    for figure in 0..pattern.n_figures() {
        let most = if figure < 2 { 0.3 } else { 2.0 };
        next = next.moved(figure, step[figure].clamp(-most, most));
    }
    next.spread_px = next.spread_px.max(LEAST_SPREAD_PX);
    let is_sound =
        next.bar_half_px.is_none_or(|half| half > 0.3) && next.smear[0].hypot(next.smear[1]) < 200.0;
    is_sound.then_some(next)
}

/// Directions from the ring around the centre, then the smear that explains most.
fn first_pattern(
    view: &GreyView,
    centre: PixelPoint,
    hint: &TargetHint,
    samples: &Samples,
) -> Option<Pattern> {
    let bar_half_px = (hint.kind == TargetKind::Cross).then_some(0.16 * hint.radius_px);
    let turns: Vec<f64> = if bar_half_px.is_some() {
        (0..6).map(|k| f64::from(k) * std::f64::consts::PI / 12.0).collect()
    } else {
        vec![Ring::around(view, centre, 0.6 * hint.radius_px)?.angle_rad()]
    };
    let smears = FIRST_SMEARS_PX.into_iter().flat_map(|length| {
        (0..8).map(move |k| {
            let (sin, cos) = (f64::from(k) * std::f64::consts::PI / 8.0).sin_cos();
            [length * cos, length * sin]
        })
    });
    let patterns = smears.flat_map(|smear| {
        turns.iter().map(move |&turn| Pattern {
            edges_rad: [turn, turn + std::f64::consts::FRAC_PI_2],
            spread_px: 0.8,
            smear,
            bar_half_px,
        })
    });
    let fits = patterns.filter_map(|pattern| samples.fit(pattern)).map(|(fit, _)| fit);
    fits.min_by(|a, b| a.squares.total_cmp(&b.squares)).map(|fit| fit.pattern)
}
