//! One cell of the tables: a target painted at many places and turns, located under noise, compared with truth and bound.

use super::Effort;
use super::bound::bound;
use super::paint::{Paint, Picture};
use super::peers::Pictures;
use anyhow::{Context, Result};
use filmgauge_quantities::{GreyImage, PixelCov, PixelPoint, TargetKind};
use filmgauge_targets::{LocateOptions, TargetHint, locate_target};
use rand_distr::{Distribution, Uniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use rayon::prelude::*;
use std::f64::consts::TAU;

/// 95 % point of χ² with 2 degrees of freedom.
const CHI2_95: f64 = 5.991_464_547;
/// Variance of rounding to whole levels.
const ROUNDING: f64 = 1.0 / 12.0;
/// Unmarked ground around a target, px.
const GROUND_PX: f64 = 16.0;

/// Seed of places, turns and directions; the noise has the next.
const SEED: u64 = 7;

/// What is painted in one cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    /// Kind of target.
    pub kind: TargetKind,
    /// Radius of the outermost edge without slant, px.
    pub radius_px: f64,
    /// Standard deviation of the noise, grey levels.
    pub noise_grey: f64,
    /// Slant of the plate.
    pub slant_deg: f64,
    /// Way during the exposure, px.
    pub smear_px: f64,
    /// Whether the method is told that the ground is plain.
    pub is_on_plain_ground: bool,
}

/// What came of one cell.
#[derive(Debug, Clone, Default)]
pub struct Outcome {
    /// Centres found.
    pub n: usize,
    /// Pictures in which none was found.
    pub failures: usize,
    /// Root mean square error along one axis, px.
    pub rms_px: f64,
    /// The same over the bound of the pixels that were used.
    pub over_window: f64,
    /// The same over the bound of the whole picture.
    pub over_whole: f64,
    /// Share of truths inside the 95 % ellipse.
    pub inside: f64,
}

/// Greatest less least error along an axis over places in the pixel, px.
#[derive(Debug, Clone, Copy)]
pub struct Bias {
    /// With 256 steps a grey level.
    pub unrounded_px: f64,
    /// Rounded to grey levels.
    pub rounded_px: f64,
}

/// Runs all cells, in parallel; the result does not depend on the number of threads.
pub(super) fn run_all(cells: &[Cell], effort: Effort) -> Result<Vec<(Outcome, Pictures)>> {
    cells.par_iter().map(|cell| cell.run_with_peers(effort)).collect()
}

impl Cell {
    /// A target that faces the camera at noise 2.
    #[must_use]
    pub fn new(kind: TargetKind, radius_px: f64) -> Self {
        Self { kind, radius_px, noise_grey: 2.0, slant_deg: 0.0, smear_px: 0.0, is_on_plain_ground: false }
    }

    /// Whether the method can do with or without the rim.
    pub(super) fn has_rim(&self) -> bool {
        matches!(self.kind, TargetKind::Quadrant | TargetKind::Cross)
    }

    pub(super) fn side(&self) -> usize {
        (2.0 * (self.radius_px + GROUND_PX + self.smear_px / 2.0)) as usize
    }

    pub(super) fn middle(&self) -> f64 {
        (self.side() / 2) as f64
    }

    fn hint(&self) -> TargetHint {
        TargetHint {
            smear_px: self.smear_px,
            is_on_plain_ground: self.is_on_plain_ground,
            ..TargetHint::new(self.kind, self.radius_px)
        }
    }

    /// The target moved by a part of a pixel, with a turn and a direction of slant and smear.
    pub(super) fn paint(&self, place: (f64, f64), turn_rad: f64, towards_rad: f64) -> Paint {
        let centre = PixelPoint::new(self.middle() + place.0, self.middle() + place.1);
        let (sin, cos) = towards_rad.sin_cos();
        Paint {
            turn_rad,
            slant_rad: self.slant_deg.to_radians(),
            slant_towards_rad: towards_rad,
            smear: (self.smear_px * cos, self.smear_px * sin),
            ..Paint::new(self.kind, centre, self.radius_px)
        }
    }

    /// Places spread evenly over the pixel, any turn, any direction.
    fn paints(&self, n: usize) -> Vec<Paint> {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(SEED);
        let Ok(any) = Uniform::new(0.0, TAU) else { return Vec::new() };
        let mut draw = || any.sample(&mut random);
        (0..n).map(|k| self.paint(spread(k), draw(), draw())).collect()
    }

    /// Radius of the pixels that the method is given.
    fn window_px(&self) -> f64 {
        LocateOptions::default().window_px(&self.hint())
    }

    /// The noises of a run.
    fn noises(seed: u64) -> Xoshiro256PlusPlus {
        Xoshiro256PlusPlus::seed_from_u64(SEED + 1 + seed)
    }

    /// Every picture of a run, with its paint and the number of its noise.
    fn each_picture(
        &self,
        effort: Effort,
        mut met: impl FnMut(&Paint, &Picture, usize, &GreyImage) -> Result<()>,
    ) -> Result<()> {
        let mut random = Self::noises(0);
        for paint in self.paints(effort.places) {
            let picture = paint.picture(self.side());
            for draw in 0..effort.draws {
                met(&paint, &picture, draw, &picture.noisy(self.noise_grey, &mut random)?)?;
            }
        }
        Ok(())
    }

    /// Locates the target in every picture.
    ///
    /// # Errors
    /// Only when a picture cannot be made.
    pub fn run(&self, effort: Effort) -> Result<Outcome> {
        Ok(self.run_with_peers(effort)?.0)
    }

    /// The same, and the pictures that the peers get.
    pub(super) fn run_with_peers(&self, effort: Effort) -> Result<(Outcome, Pictures)> {
        let variance = self.noise_grey * self.noise_grey + ROUNDING;
        let mut sums = Sums::default();
        let mut bounds = (None, None);
        let mut pictures = Pictures::default();
        self.each_picture(effort, |paint, picture, draw, image| {
            if draw == 0 {
                let of = |reach_px: f64| bound(picture, paint.centre, reach_px, variance);
                bounds = (of(self.window_px()), of(f64::INFINITY));
                pictures.turn_to(self, paint);
            }
            sums.add(image, paint, self, bounds.0, bounds.1);
            if draw < effort.for_peers.div_ceil(effort.places) {
                pictures.add(self, paint, image)?;
            }
            Ok(())
        })?;
        Ok((sums.outcome(), pictures))
    }

    /// Spread of the error over places in the pixel, without noise, at a turn of 17 degrees.
    ///
    /// # Errors
    /// When a target is not found.
    pub fn bias(&self, n_places: usize) -> Result<Bias> {
        let mut spreads = [0.0; 2];
        for (spread_px, is_rounded) in spreads.iter_mut().zip([false, true]) {
            let (mut least, mut greatest) = ([f64::MAX; 2], [f64::MIN; 2]);
            for k in 0..n_places {
                let paint = self.paint(spread(k), 17.0_f64.to_radians(), 0.6);
                let picture = paint.picture(self.side());
                let image =
                    if is_rounded { picture.noisy(0.0, &mut Self::noises(0))? } else { picture.fine()? };
                let (error, _) = self.located(&image, &paint).context("a painted target was not found")?;
                for axis in 0..2 {
                    least[axis] = least[axis].min(error[axis]);
                    greatest[axis] = greatest[axis].max(error[axis]);
                }
            }
            *spread_px = (greatest[0] - least[0]).max(greatest[1] - least[1]);
        }
        Ok(Bias { unrounded_px: spreads[0], rounded_px: spreads[1] })
    }

    fn located(&self, image: &GreyImage, paint: &Paint) -> Option<([f64; 2], PixelCov)> {
        let near = PixelPoint::new(self.middle() + 0.3, self.middle() - 0.2);
        let found = locate_target(&image.view(), near, &self.hint(), &LocateOptions::default()).ok()?;
        Some(([found.centre.x - paint.centre.x, found.centre.y - paint.centre.y], found.cov))
    }
}

/// Places spread evenly over the pixel by an additive recurrence in two dimensions (plastic number).
fn spread(k: usize) -> (f64, f64) {
    ((k as f64 * 0.754_877_666).fract() - 0.5, (k as f64 * 0.569_840_291).fract() - 0.5)
}

#[derive(Default)]
struct Sums {
    n: usize,
    failures: usize,
    inside: usize,
    squares: f64,
    window: f64,
    whole: f64,
}

impl Sums {
    fn add(
        &mut self,
        image: &GreyImage,
        paint: &Paint,
        cell: &Cell,
        window: Option<PixelCov>,
        whole: Option<PixelCov>,
    ) {
        let trace = |cov: Option<PixelCov>| cov.map_or(0.0, |cov| cov.xx + cov.yy);
        let Some((error, cov)) = cell.located(image, paint) else {
            self.failures += 1;
            return;
        };
        self.n += 1;
        self.squares += error[0] * error[0] + error[1] * error[1];
        self.window += trace(window);
        self.whole += trace(whole);
        self.inside += usize::from(cov.mahalanobis2(error[0], error[1]).is_some_and(|d2| d2 <= CHI2_95));
    }

    fn outcome(&self) -> Outcome {
        let n = self.n.max(1) as f64;
        Outcome {
            n: self.n,
            failures: self.failures,
            rms_px: (self.squares / (2.0 * n)).sqrt(),
            over_window: (self.squares / self.window).sqrt(),
            over_whole: (self.squares / self.whole).sqrt(),
            inside: self.inside as f64 / n,
        }
    }
}
