//! Painted frames for finding: targets of every kind with exact truth on uneven ground, among things that are none.

use filmgauge_quantities::{GreyImage, PixelPoint, TargetKind};
use rand_distr::{Distribution, StandardNormal, StandardUniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use std::f64::consts::{FRAC_PI_4, PI, TAU};

/// Size of a frame, px.
pub(super) const SIZE: [usize; 2] = [1920, 1080];
/// Cells of a frame; each holds one target, or one thing that is none.
const CELLS: [usize; 2] = [7, 5];
/// Targets of a frame; the other cells hold something else.
const N_TARGETS: usize = 25;
/// Half-width of a cross's bars and inner radius of a ring, of the radius.
const CROSS_HALF: f64 = 0.16;
const RING_INNER: f64 = 0.5;
/// Standard deviation of the point spread of lens and pixel, px. Edges are softened by it in closed form: a pixel read at
/// a few places would put steps into an edge that no lens and no pixel make, and would move an edge along a row as one.
const SPREAD_PX: f64 = 0.5;

/// A target's truth.
#[derive(Debug, Clone)]
pub(super) struct Truth {
    pub(super) kind: TargetKind,
    pub(super) centre: PixelPoint,
    /// Radius along its longest direction, px.
    pub(super) radius_px: f64,
    pub(super) slant_rad: f64,
    /// Way during the exposure as a share of the radius.
    pub(super) smear_share: f64,
    /// From the picture to the plate with radius 1.
    rows: [[f64; 2]; 2],
    smear: [f64; 2],
    dark: f64,
    bright: f64,
}

/// Draws evenly spread numbers.
struct Dice(Xoshiro256PlusPlus);

impl Dice {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        let share: f64 = StandardUniform.sample(&mut self.0);
        low + share * (high - low)
    }

    fn pick(&mut self, n: usize) -> usize {
        (self.between(0.0, n as f64) as usize).min(n - 1)
    }
}

/// A frame with its noise, and what is painted into it.
pub(super) fn frame(seed: u64, noise_grey: f64) -> anyhow::Result<(Vec<Truth>, GreyImage)> {
    let mut dice = Dice(Xoshiro256PlusPlus::seed_from_u64(seed));
    let mut levels = ground(&mut dice);
    let mut cells: Vec<usize> = (0..CELLS[0] * CELLS[1]).collect();
    for k in (1..cells.len()).rev() {
        cells.swap(k, dice.pick(k + 1));
    }
    let mut truths = Vec::new();
    for (k, cell) in cells.into_iter().enumerate() {
        let size = [0, 1].map(|axis| SIZE[axis] as f64 / CELLS[axis] as f64);
        let middle = [
            (cell % CELLS[0]) as f64 * size[0] + size[0] / 2.0,
            (cell / CELLS[0]) as f64 * size[1] + size[1] / 2.0,
        ];
        if k < N_TARGETS {
            let truth = Truth::drawn(k, middle, size, &mut dice);
            truth.paint(&mut levels);
            truths.push(truth);
        } else {
            distract(k % 5, middle, &mut dice, &mut levels);
        }
    }
    let mut draw = || -> f64 { StandardNormal.sample(&mut dice.0) };
    let samples = levels.iter().map(|level| (level + noise_grey * draw()).round().clamp(0.0, 255.0) as u8);
    Ok((truths, GreyImage::from_u8(SIZE[0], SIZE[1], samples.collect())?))
}

/// Shading of a few long and short waves, 90 to 140 grey.
fn ground(dice: &mut Dice) -> Vec<f64> {
    let waves: Vec<[f64; 4]> = [(10.0, 900.0), (7.0, 300.0), (5.0, 90.0), (3.0, 37.0)]
        .map(|(height, length)| {
            let (sin, cos) = dice.between(0.0, TAU).sin_cos();
            [height, TAU * cos / length, TAU * sin / length, dice.between(0.0, TAU)]
        })
        .to_vec();
    let at = |i: usize| {
        let (x, y) = ((i % SIZE[0]) as f64, (i / SIZE[0]) as f64);
        115.0
            + waves
                .iter()
                .map(|[height, fx, fy, start]| height * (fx * x + fy * y + start).sin())
                .sum::<f64>()
    };
    (0..SIZE[0] * SIZE[1]).map(at).collect()
}

impl Truth {
    fn drawn(k: usize, middle: [f64; 2], size: [f64; 2], dice: &mut Dice) -> Self {
        let kind = [TargetKind::Quadrant, TargetKind::Disc, TargetKind::Ring, TargetKind::Cross][k % 4];
        let radius_px = 6.0 * (80.0_f64 / 6.0).powf(dice.between(0.0, 1.0));
        let slant_rad = dice.between(0.0, FRAC_PI_4);
        let smear_share = dice.between(0.0, 1.0 / 3.0);
        let room = |size: f64| (size / 2.0 - 1.25 * radius_px - 4.0).max(0.0);
        let centre = PixelPoint::new(
            middle[0] + dice.between(-1.0, 1.0) * room(size[0]),
            middle[1] + dice.between(-1.0, 1.0) * room(size[1]),
        );
        let (towards, turn, way) = (dice.between(0.0, PI), dice.between(0.0, TAU), dice.between(0.0, PI));
        let (sin, cos) = towards.sin_cos();
        let stretch = 1.0 / slant_rad.cos();
        let flat = [[stretch * cos, stretch * sin], [-sin, cos]];
        let (turn_sin, turn_cos) = turn.sin_cos();
        let row = |a: f64, b: f64| [0, 1].map(|axis| (a * flat[0][axis] + b * flat[1][axis]) / radius_px);
        let is_inverse = dice.pick(3) == 0;
        let (dark, bright) = if is_inverse { (205.0, 40.0) } else { (40.0, 205.0) };
        Self {
            kind,
            centre,
            radius_px,
            slant_rad,
            smear_share,
            rows: [row(turn_cos, turn_sin), row(-turn_sin, turn_cos)],
            smear: [smear_share * radius_px * way.cos(), smear_share * radius_px * way.sin()],
            dark,
            bright,
        }
    }

    /// Level and cover at an offset from the centre, under the point spread: each edge is softened by its own distance.
    fn at(&self, dx: f64, dy: f64) -> (f64, f64) {
        let [u, v] = self.rows.map(|row| row[0] * dx + row[1] * dy);
        let [fall_u, fall_v] = self.rows.map(|row| row[0].hypot(row[1]));
        let r = u.hypot(v).max(1e-9);
        let fall = |axis: usize| (u * self.rows[0][axis] + v * self.rows[1][axis]) / r;
        let fall_r = fall(0).hypot(fall(1)).max(1e-9);
        let beyond = |distance: f64, fall: f64| {
            f64::midpoint(1.0, libm::erf(distance / (fall * SPREAD_PX * std::f64::consts::SQRT_2)))
        };
        let hole = if self.kind == TargetKind::Ring { beyond(RING_INNER - r, fall_r) } else { 0.0 };
        let cover = beyond(1.0 - r, fall_r) - hole;
        let off_bar =
            |at: f64, fall: f64| 1.0 - beyond(at + CROSS_HALF, fall) + beyond(at - CROSS_HALF, fall);
        let bright = match self.kind {
            TargetKind::Quadrant => {
                let (u, v) = (beyond(u, fall_u), beyond(v, fall_v));
                u * v + (1.0 - u) * (1.0 - v)
            }
            TargetKind::Cross => off_bar(u, fall_u) * off_bar(v, fall_v),
            TargetKind::Disc | TargetKind::Ring | TargetKind::Patch => 0.0,
        };
        (self.dark + bright * (self.bright - self.dark), cover)
    }

    /// Over what is there, averaged over the exposure.
    fn paint(&self, levels: &mut [f64]) {
        let reach = 1.2 * self.radius_px + 5.0 * SPREAD_PX;
        let n_moments = (self.smear[0].hypot(self.smear[1]) / SPREAD_PX).ceil().max(1.0);
        for (x, y, level) in near(self.centre, reach, levels) {
            let (mut own, mut cover) = (0.0, 0.0);
            for moment in 0..n_moments as usize {
                let share = (moment as f64 + 0.5) / n_moments - 0.5;
                let dx = x - self.centre.x - share * self.smear[0];
                let dy = y - self.centre.y - share * self.smear[1];
                let (grey, covered) = self.at(dx, dy);
                own += covered * grey / n_moments;
                cover += covered / n_moments;
            }
            *level = own + (1.0 - cover) * *level;
        }
    }
}

/// Pixels of a square about a place, with their level.
fn near(centre: PixelPoint, reach: f64, levels: &mut [f64]) -> impl Iterator<Item = (f64, f64, &mut f64)> {
    let is_near = move |i: usize| {
        let (x, y) = ((i % SIZE[0]) as f64, (i / SIZE[0]) as f64);
        ((x - centre.x).abs() <= reach && (y - centre.y).abs() <= reach).then_some((x, y))
    };
    let first = (centre.y - reach).max(0.0) as usize * SIZE[0];
    let end = ((centre.y + reach).max(0.0) as usize + 1).min(SIZE[1]) * SIZE[0];
    let rows = levels.get_mut(first..end).unwrap_or_default().iter_mut().enumerate();
    rows.filter_map(move |(k, level)| is_near(first + k).map(|(x, y)| (x, y, level)))
}

/// Something that is no target: strokes as of writing, a blob that fades, stripes, a chequered area, soft circles.
fn distract(sort: usize, middle: [f64; 2], dice: &mut Dice, levels: &mut [f64]) {
    let centre = PixelPoint::new(middle[0], middle[1]);
    let (turn, size) = (dice.between(0.0, PI), dice.between(8.0, 24.0));
    let (sin, cos) = turn.sin_cos();
    let strokes: Vec<[f64; 5]> = (0..14)
        .map(|_| {
            let (x, y) = (dice.between(-80.0, 80.0), dice.between(-40.0, 40.0));
            let (dx, dy) = (dice.between(-18.0, 18.0), dice.between(-18.0, 18.0));
            [x, y, x + dx, y + dy, dice.between(1.2, 3.0)]
        })
        .collect();
    for (x, y, level) in near(centre, 95.0, levels) {
        let (dx, dy) = (x - centre.x, y - centre.y);
        let (u, v) = (cos * dx + sin * dy, cos * dy - sin * dx);
        let r = dx.hypot(dy);
        match sort {
            0 if strokes.iter().any(|stroke| beside(dx, dy, stroke) < stroke[4]) => *level = 35.0,
            1 => *level += 90.0 * (-(r / (2.0 * size)).powi(2)).exp(),
            2 if r < 90.0 => *level = if (u / size).floor().rem_euclid(2.0) < 0.5 { 45.0 } else { 190.0 },
            3 if u.abs() < 60.0 && v.abs() < 60.0 => {
                let sum = (u / size).floor() + (v / size).floor();
                *level = if sum.rem_euclid(2.0) < 0.5 { 45.0 } else { 190.0 };
            }
            4 if r < 85.0 => *level += 12.0 * (r / size).sin(),
            _ => {}
        }
    }
}

/// Distance from a stroke, px.
fn beside(x: f64, y: f64, stroke: &[f64; 5]) -> f64 {
    let (ax, ay) = (stroke[2] - stroke[0], stroke[3] - stroke[1]);
    let share =
        (((x - stroke[0]) * ax + (y - stroke[1]) * ay) / (ax * ax + ay * ay).max(1e-9)).clamp(0.0, 1.0);
    (x - stroke[0] - share * ax).hypot(y - stroke[1] - share * ay)
}
