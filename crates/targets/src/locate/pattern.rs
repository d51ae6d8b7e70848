//! The grey pattern of a quadrant or cross under a point spread and a straight smear.

use std::f64::consts::SQRT_2;

/// Beyond this many point spreads an edge does not change the level.
const FADED: f64 = 4.0;
/// Steps of the smear, in point spreads: the sums are then exact to a thousandth of the contrast.
const STEP_SPREADS: f64 = 0.7;
const MOST_STEPS: f64 = 96.0;

/// Shape of a blurred pattern about its centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pattern {
    /// Directions of the two edges (or bars), rad.
    pub(super) edges_rad: [f64; 2],
    /// Standard deviation of the point spread, the pixel's own area included, px.
    pub(super) spread_px: f64,
    /// Way during the exposure, px.
    pub(super) smear: [f64; 2],
    /// Half-width of a cross's bars, px; `None` for a quadrant.
    pub(super) bar_half_px: Option<f64>,
}

impl Pattern {
    /// Number of figures that make the shape.
    pub(super) fn n_figures(&self) -> usize {
        5 + usize::from(self.bar_half_px.is_some())
    }

    /// The pattern with one figure changed: edges, spread, smear, half-width.
    pub(super) fn moved(mut self, figure: usize, by: f64) -> Self {
        match figure {
            0 | 1 => self.edges_rad[figure] += by,
            2 => self.spread_px += by,
            3 | 4 => self.smear[figure - 3] += by,
            _ => self.bar_half_px = self.bar_half_px.map(|half| half + by),
        }
        self
    }

    /// Level at each offset from the centre: -1 to 1 for a quadrant, 0 (bars) to 1 for a cross.
    pub(super) fn levels(&self, offsets: &[[f64; 2]]) -> Vec<f64> {
        let across = self.edges_rad.map(|angle| {
            let (sin, cos) = angle.sin_cos();
            [-sin, cos]
        });
        let dot = |a: [f64; 2], b: [f64; 2]| a[0] * b[0] + a[1] * b[1];
        let way = across.map(|normal| dot(normal, self.smear));
        let length = way[0].hypot(way[1]);
        let n_steps = (length / (STEP_SPREADS * self.spread_px)).ceil().clamp(1.0, MOST_STEPS);
        offsets
            .iter()
            .map(|&offset| {
                let d = across.map(|normal| dot(normal, offset));
                match (self.plain(d[0], way[0]), self.plain(d[1], way[1])) {
                    (Some(one), Some(other)) => one * other,
                    (one, other) => self.mean(d, way, n_steps, one, other),
                }
            })
            .collect()
    }

    /// Mean over the exposure of the product of the two profiles; a plain one need not be asked again.
    fn mean(&self, d: [f64; 2], way: [f64; 2], n_steps: f64, one: Option<f64>, other: Option<f64>) -> f64 {
        let at = |known: Option<f64>, axis: usize, share: f64| {
            known.unwrap_or_else(|| self.profile(d[axis] - share * way[axis]))
        };
        let moment = |k: usize| (k as f64 + 0.5) / n_steps - 0.5;
        let steps = 0..n_steps as usize;
        let product = |share: f64| at(one, 0, share) * at(other, 1, share);
        steps.map(moment).map(product).sum::<f64>() / n_steps
    }

    /// Level across one edge or bar at a distance.
    fn profile(&self, d: f64) -> f64 {
        let soft = |d: f64| libm::erf(d / (self.spread_px * SQRT_2));
        match self.bar_half_px {
            None => soft(d),
            Some(half) => 1.0 - (soft(d + half) - soft(d - half)) / 2.0,
        }
    }

    /// The profile where no edge comes near during the exposure.
    fn plain(&self, d: f64, way: f64) -> Option<f64> {
        let reach = FADED * self.spread_px + way.abs() / 2.0;
        match self.bar_half_px {
            None => (d.abs() > reach).then_some(d.signum()),
            Some(half) if d.abs() > half + reach => Some(1.0),
            Some(half) => (d.abs() + reach < half).then_some(0.0),
        }
    }
}
