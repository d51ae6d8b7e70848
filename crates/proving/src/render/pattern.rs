//! Target patterns on the unit disc: how much of a small cell is covered, and how much of it is light.

use super::coverage::Cell;
use filmgauge_quantities::TargetKind;

/// Radius of the dark disc of a `disc` target, of the whole radius.
pub(crate) const DISC_DARK: f64 = 0.6;
/// Inner and outer radius of the dark ring of a `ring` target, of the whole radius.
pub(crate) const RING_DARK: [f64; 2] = [0.4, 0.75];
/// Half-width of a dark bar of a `cross` target, of the whole radius.
pub(crate) const CROSS_HALF: f64 = 0.16;

/// Shares of a cell, 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Share {
    pub covered: f64,
    pub light: f64,
}

/// A cell's half-sides in the target's plane with radius 1, the same for every cell of a picture patch.
#[derive(Debug, Clone, Copy)]
pub(super) struct CellShape {
    a: [f64; 2],
    b: [f64; 2],
    area: f64,
    reach: f64,
}

impl CellShape {
    pub(super) fn new(a: [f64; 2], b: [f64; 2]) -> Self {
        let area = 4.0 * (a[0] * b[1] - a[1] * b[0]).abs();
        let reach = (a[0].abs() + b[0].abs()).hypot(a[1].abs() + b[1].abs());
        Self { a, b, area, reach }
    }

    /// Shares of the cell about `centre`; exact, and cheap where no edge passes through the cell.
    pub(super) fn share(&self, kind: TargetKind, centre: [f64; 2]) -> Share {
        let radius2 = centre[0] * centre[0] + centre[1] * centre[1];
        let (outer, inner) = (1.0 + self.reach, (1.0 - self.reach).max(0.0));
        if radius2 >= outer * outer {
            return Share { covered: 0.0, light: 0.0 };
        }
        if radius2 <= inner * inner
            && let Some(light) = self.plain(kind, centre, radius2.sqrt())
        {
            return Share { covered: 1.0, light };
        }
        let cell = Cell::about(centre, self.a, self.b);
        let whole = cell.area_in_circle(1.0);
        Share { covered: whole / self.area, light: light_area(kind, &cell, whole) / self.area }
    }

    /// The light share of a cell that no inner edge touches.
    fn plain(&self, kind: TargetKind, centre: [f64; 2], radius: f64) -> Option<f64> {
        let clear = |edge: f64, place: f64| (place - edge).abs() > self.reach;
        let light_when = |light: bool| Some(if light { 1.0 } else { 0.0 });
        let [x, y] = [centre[0].abs(), centre[1].abs()];
        match kind {
            TargetKind::Quadrant if clear(0.0, x) && clear(0.0, y) => light_when(centre[0] * centre[1] > 0.0),
            TargetKind::Disc if clear(DISC_DARK, radius) => light_when(radius > DISC_DARK),
            TargetKind::Ring if RING_DARK.iter().all(|&edge| clear(edge, radius)) => {
                light_when(!(RING_DARK[0]..=RING_DARK[1]).contains(&radius))
            }
            TargetKind::Cross if clear(CROSS_HALF, x) && clear(CROSS_HALF, y) => {
                light_when(x > CROSS_HALF && y > CROSS_HALF)
            }
            _ => None,
        }
    }
}

fn light_area(kind: TargetKind, cell: &Cell, whole: f64) -> f64 {
    match kind {
        TargetKind::Quadrant | TargetKind::Patch => {
            let first = cell.beyond([1.0, 0.0], 0.0).beyond([0.0, 1.0], 0.0);
            let third = cell.beyond([-1.0, 0.0], 0.0).beyond([0.0, -1.0], 0.0);
            first.area_in_circle(1.0) + third.area_in_circle(1.0)
        }
        TargetKind::Disc => whole - cell.area_in_circle(DISC_DARK),
        TargetKind::Ring => whole - cell.area_in_circle(RING_DARK[1]) + cell.area_in_circle(RING_DARK[0]),
        TargetKind::Cross => {
            let level = -CROSS_HALF;
            let upright = cell.beyond([1.0, 0.0], level).beyond([-1.0, 0.0], level);
            let lying = cell.beyond([0.0, 1.0], level).beyond([0.0, -1.0], level);
            let both = upright.beyond([0.0, 1.0], level).beyond([0.0, -1.0], level);
            whole - upright.area_in_circle(1.0) - lying.area_in_circle(1.0) + both.area_in_circle(1.0)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// Areas computed from the stated shapes.
    #[test]
    fn whole_patterns_have_their_light_areas() {
        let shape = CellShape::new([1.5, 0.2], [-0.2, 1.5]);
        let quarter_band = {
            // Area of the strip |x| < w inside the unit circle, and of the square |x|, |y| < w.
            let w = CROSS_HALF;
            2.0 * (w * (1.0 - w * w).sqrt() + w.asin())
        };
        for (kind, light) in [
            (TargetKind::Quadrant, PI / 2.0),
            (TargetKind::Disc, PI * (1.0 - DISC_DARK * DISC_DARK)),
            (TargetKind::Ring, PI * (1.0 - RING_DARK[1].powi(2) + RING_DARK[0].powi(2))),
            (TargetKind::Cross, PI - 2.0 * quarter_band + 4.0 * CROSS_HALF * CROSS_HALF),
        ] {
            let share = shape.share(kind, [0.0, 0.0]);
            assert!((share.covered * shape.area - PI).abs() < 1e-12, "{kind:?}");
            assert!((share.light * shape.area - light).abs() < 1e-12, "{kind:?}");
        }
    }
}
