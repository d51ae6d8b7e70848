//! Painted targets for the accuracy of centres: any turn, slant and smear, with the exact slopes of every pixel.
//!
//! A picture is a function of the place less the centre that does not change under a half-turn, so the truth is exact
//! however fine the sums are: edges softened by the point spread, averaged over the pixel (three-point Gauss-Legendre)
//! and over the exposure.

use filmgauge_quantities::{GreyImage, PixelPoint, TargetKind};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::f64::consts::SQRT_2;

/// Half-width of a dark bar of a cross, of the radius.
pub(super) const CROSS_HALF: f64 = 0.16;
/// Inner radius of a dark ring, of the radius.
pub(super) const RING_INNER: f64 = 0.5;
/// Level around quadrants and crosses, and what discs and rings are painted on.
const GROUND: f64 = 110.0;
const DARK: f64 = 45.0;
const BRIGHT: f64 = 195.0;
/// Beyond this many point spreads an edge does not change a pixel.
const FADED: f64 = 4.5;

/// Places and weights across one pixel.
const ACROSS: [(f64, f64); 3] =
    [(-0.387_298_334_620_741_7, 5.0 / 18.0), (0.0, 8.0 / 18.0), (0.387_298_334_620_741_7, 5.0 / 18.0)];

/// A target as it lies before the camera.
#[derive(Debug, Clone)]
pub(super) struct Paint {
    pub(super) kind: TargetKind,
    pub(super) centre: PixelPoint,
    /// Radius of the outermost edge without slant, px.
    pub(super) radius_px: f64,
    /// Turn of the pattern on its plate, rad.
    pub(super) turn_rad: f64,
    /// Slant of the plate, rad, and the direction in the picture in which it is shortened.
    pub(super) slant_rad: f64,
    pub(super) slant_towards_rad: f64,
    /// Way during the exposure, px.
    pub(super) smear: (f64, f64),
    /// Standard deviation of the point spread, px.
    pub(super) spread_px: f64,
}

/// A picture before noise, and its slopes.
pub(super) struct Picture {
    pub(super) side: usize,
    pub(super) levels: Vec<f64>,
    /// Change of each level per pixel of the centre's way along x and along y.
    pub(super) slopes: Vec<(f64, f64)>,
}

impl Paint {
    pub(super) fn new(kind: TargetKind, centre: PixelPoint, radius_px: f64) -> Self {
        Self {
            kind,
            centre,
            radius_px,
            turn_rad: 0.0,
            slant_rad: 0.0,
            slant_towards_rad: 0.0,
            smear: (0.0, 0.0),
            spread_px: 0.7,
        }
    }

    /// The picture, `side` pixels square.
    pub(super) fn picture(&self, side: usize) -> Picture {
        let plate = self.plate();
        let moments = self.moments();
        let mut levels = Vec::with_capacity(side * side);
        let mut slopes = Vec::with_capacity(side * side);
        for y in 0..side {
            for x in 0..side {
                let (dx, dy) = (x as f64 - self.centre.x, y as f64 - self.centre.y);
                if plate.is_plain(dx, dy, self.half_smear()) {
                    levels.push(plate.level(dx, dy));
                    slopes.push((0.0, 0.0));
                    continue;
                }
                let mean = |at: &dyn Fn(f64, f64) -> f64| {
                    moments.iter().map(|&(mx, my)| at(dx - mx, dy - my)).sum::<f64>() / moments.len() as f64
                };
                levels.push(mean(&|x, y| plate.pixel(x, y)));
                // The slope of a mean over a square is the difference of the means over its sides.
                slopes.push((-mean(&|x, y| plate.across_x(x, y)), -mean(&|x, y| plate.across_y(x, y))));
            }
        }
        Picture { side, levels, slopes }
    }

    fn half_smear(&self) -> f64 {
        self.smear.0.hypot(self.smear.1) / 2.0
    }

    /// Where the target is during the exposure, against mid-exposure.
    fn moments(&self) -> Vec<(f64, f64)> {
        let n = (4.0 * self.half_smear()).ceil().max(1.0);
        (0..n as usize)
            .map(|k| (k as f64 + 0.5) / n - 0.5)
            .map(|share| (share * self.smear.0, share * self.smear.1))
            .collect()
    }

    fn plate(&self) -> Plate {
        let (sin, cos) = self.slant_towards_rad.sin_cos();
        let (turn_sin, turn_cos) = (self.turn_rad - self.slant_towards_rad).sin_cos();
        let stretch = 1.0 / self.slant_rad.cos();
        // Along the shortened direction lengths on the plate are longer than in the picture.
        let flat = [[stretch * cos, stretch * sin], [-sin, cos]];
        let row = |a: f64, b: f64| {
            [
                (a * flat[0][0] + b * flat[1][0]) / self.radius_px,
                (a * flat[0][1] + b * flat[1][1]) / self.radius_px,
            ]
        };
        Plate {
            kind: self.kind,
            rows: [row(turn_cos, turn_sin), row(-turn_sin, turn_cos)],
            soft: 1.0 / (self.spread_px * SQRT_2),
        }
    }
}

/// The pattern at a place in the picture without the pixel's own area.
struct Plate {
    kind: TargetKind,
    /// From the picture to the plate with radius 1.
    rows: [[f64; 2]; 2],
    soft: f64,
}

impl Plate {
    fn on_plate(&self, dx: f64, dy: f64) -> [f64; 2] {
        self.rows.map(|row| row[0] * dx + row[1] * dy)
    }

    /// Distance in the picture from the line where coordinate `axis` of the plate is `level`, px.
    fn beside_line(&self, u: [f64; 2], axis: usize, level: f64) -> f64 {
        (u[axis] - level) / self.rows[axis][0].hypot(self.rows[axis][1])
    }

    /// Distance inwards from the circle of `radius` on the plate, px, to first order.
    fn inside(&self, u: [f64; 2], radius: f64) -> f64 {
        let r = u[0].hypot(u[1]).max(1e-9);
        let slope = [0, 1].map(|axis| (u[0] * self.rows[0][axis] + u[1] * self.rows[1][axis]) / r);
        (radius - r) / slope[0].hypot(slope[1]).max(1e-12)
    }

    /// Distances from all edges.
    fn edges(&self, u: [f64; 2]) -> Vec<f64> {
        match self.kind {
            TargetKind::Disc => vec![self.inside(u, 1.0)],
            TargetKind::Ring => vec![self.inside(u, 1.0), self.inside(u, RING_INNER)],
            TargetKind::Cross => [(0, CROSS_HALF), (0, -CROSS_HALF), (1, CROSS_HALF), (1, -CROSS_HALF)]
                .map(|(axis, level)| self.beside_line(u, axis, level))
                .into_iter()
                .chain([self.inside(u, 1.0)])
                .collect(),
            TargetKind::Quadrant | TargetKind::Patch => {
                vec![self.beside_line(u, 0, 0.0), self.beside_line(u, 1, 0.0), self.inside(u, 1.0)]
            }
        }
    }

    fn is_plain(&self, dx: f64, dy: f64, half_smear: f64) -> bool {
        let reach = FADED / (self.soft * SQRT_2) + 0.75 + half_smear;
        self.edges(self.on_plate(dx, dy)).iter().all(|d| d.abs() > reach)
    }

    fn level(&self, dx: f64, dy: f64) -> f64 {
        let soft = |d: f64| libm::erf(d * self.soft);
        let u = self.on_plate(dx, dy);
        let within = |radius: f64| (1.0 + soft(self.inside(u, radius))) / 2.0;
        let on_base = |level: f64| {
            let cover = within(1.0);
            cover * level + (1.0 - cover) * GROUND
        };
        match self.kind {
            TargetKind::Disc => BRIGHT + within(1.0) * (DARK - BRIGHT),
            TargetKind::Ring => BRIGHT + (within(1.0) - within(RING_INNER)) * (DARK - BRIGHT),
            TargetKind::Cross => {
                let bar = |axis: usize| {
                    let side = |level: f64| soft(self.beside_line(u, axis, level));
                    (side(-CROSS_HALF) - side(CROSS_HALF)) / 2.0
                };
                let light = (1.0 - bar(0)) * (1.0 - bar(1));
                on_base(DARK + light * (BRIGHT - DARK))
            }
            TargetKind::Quadrant | TargetKind::Patch => {
                let quarters = soft(self.beside_line(u, 0, 0.0)) * soft(self.beside_line(u, 1, 0.0));
                on_base(f64::midpoint(BRIGHT, DARK) + quarters * (BRIGHT - DARK) / 2.0)
            }
        }
    }

    fn pixel(&self, dx: f64, dy: f64) -> f64 {
        let sum = |(oy, wy): (f64, f64)| {
            ACROSS.iter().map(|&(ox, wx)| wx * wy * self.level(dx + ox, dy + oy)).sum::<f64>()
        };
        ACROSS.into_iter().map(sum).sum()
    }

    fn across_x(&self, dx: f64, dy: f64) -> f64 {
        let change = |(o, w): (f64, f64)| w * (self.level(dx + 0.5, dy + o) - self.level(dx - 0.5, dy + o));
        ACROSS.into_iter().map(change).sum()
    }

    fn across_y(&self, dx: f64, dy: f64) -> f64 {
        let change = |(o, w): (f64, f64)| w * (self.level(dx + o, dy + 0.5) - self.level(dx + o, dy - 0.5));
        ACROSS.into_iter().map(change).sum()
    }
}

impl Picture {
    /// Rounded to 8 bits after adding normal noise.
    pub(super) fn noisy(
        &self,
        noise_grey: f64,
        random: &mut Xoshiro256PlusPlus,
    ) -> anyhow::Result<GreyImage> {
        let mut draw = || -> f64 { StandardNormal.sample(random) };
        let samples =
            self.levels.iter().map(|level| (level + noise_grey * draw()).round().clamp(0.0, 255.0) as u8);
        Ok(GreyImage::from_u8(self.side, self.side, samples.collect())?)
    }

    /// 16 bits, 256 steps to a grey level, without noise.
    pub(super) fn fine(&self) -> anyhow::Result<GreyImage> {
        let samples = self.levels.iter().map(|level| (256.0 * level).round().clamp(0.0, 65535.0) as u16);
        Ok(GreyImage::from_u16(self.side, self.side, 16, samples.collect())?)
    }
}
