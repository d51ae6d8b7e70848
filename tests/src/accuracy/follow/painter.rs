//! Paints quartered discs with soft edges, averaged over the pixel, into small pictures.

use filmgauge_quantities::PixelPoint;

/// Places and weights of two-point Gauss-Legendre quadrature over a pixel.
const ACROSS_PIXEL: [f64; 2] = [-0.288_675_134_594_812_9, 0.288_675_134_594_812_9];

/// Width of the edges, px: that of a point spread of 0.7 px.
const EDGE_PX: f64 = 0.87;

/// A picture before noise.
#[derive(Debug, Clone)]
pub(crate) struct Canvas {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) levels: Vec<f32>,
}

/// A quartered disc.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Disc {
    pub(crate) centre: PixelPoint,
    pub(crate) radius_px: f64,
    pub(crate) angle_rad: f64,
    pub(crate) dark: f64,
    pub(crate) bright: f64,
}

impl Canvas {
    /// A background of waves whose phases come from `turn`.
    pub(crate) fn uneven(width: usize, height: usize, turn: f64) -> Self {
        let level = |i: usize| {
            let (x, y) = ((i % width) as f64, (i / width) as f64);
            let waves = 14.0 * (0.05 * x + turn).sin() * (0.06 * y).cos()
                + 9.0 * (0.21 * x + 0.13 * y + 2.0 * turn).sin()
                + 6.0 * (0.37 * x - 0.31 * y - turn).cos();
            #[expect(clippy::cast_possible_truncation, reason = "grey levels")]
            let level = (115.0 + waves) as f32;
            level
        };
        Self { width, height, levels: (0..width * height).map(level).collect() }
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "rows and columns are clamped to the picture"
    )]
    pub(crate) fn paint(&mut self, disc: &Disc) {
        let reach = disc.radius_px + 4.0;
        let range = |at: f64, length: usize| {
            (at - reach).max(0.0) as usize..((at + reach).max(0.0) as usize + 1).min(length)
        };
        let (sin, cos) = disc.angle_rad.sin_cos();
        let (mean, half) = ((disc.bright + disc.dark) / 2.0, (disc.bright - disc.dark) / 2.0);
        for y in range(disc.centre.y, self.height) {
            for x in range(disc.centre.x, self.width) {
                let under = f64::from(self.levels[y * self.width + x]);
                let mut sum = 0.0;
                for oy in ACROSS_PIXEL {
                    for ox in ACROSS_PIXEL {
                        let (dx, dy) = (x as f64 + ox - disc.centre.x, y as f64 + oy - disc.centre.y);
                        let soft = |d: f64| (d / EDGE_PX).tanh();
                        let pattern = soft(dx * cos + dy * sin) * soft(dy * cos - dx * sin);
                        let cover = (1.0 + soft(disc.radius_px - dx.hypot(dy))) / 2.0;
                        sum += cover * (mean + half * pattern) + (1.0 - cover) * under;
                    }
                }
                self.levels[y * self.width + x] = (sum / 4.0) as f32;
            }
        }
    }

    /// Changes the levels within `reach` of a place by a function of offset and level.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "rows and columns are clamped to the picture"
    )]
    pub(crate) fn change(&mut self, middle: PixelPoint, reach: f64, change: impl Fn(f64, f64, f64) -> f64) {
        let range = |at: f64, length: usize| {
            (at - reach).max(0.0) as usize..((at + reach).max(0.0) as usize + 1).min(length)
        };
        for y in range(middle.y, self.height) {
            for x in range(middle.x, self.width) {
                let level = &mut self.levels[y * self.width + x];
                *level = change(x as f64 - middle.x, y as f64 - middle.y, f64::from(*level)) as f32;
            }
        }
    }
}
