//! Whether one edge of a chessboard runs straight from one crossing to the next, and which side of it is brighter.

use crate::rings::between;
use filmgauge_quantities::{GreyView, PixelPoint};

/// Places along the way that are looked at.
const PLACES: [f64; 5] = [0.2, 0.35, 0.5, 0.65, 0.8];
/// How far to either side, as a share of the way.
const ASIDE_SHARE: f64 = 0.12;
/// Least distance to either side, px: beyond the softness of a sharp picture's edge.
const LEAST_ASIDE_PX: f64 = 1.2;
/// Every place must show this share of the greatest difference along the way.
const EVEN_SHARE: f64 = 0.3;

/// Brightness to the right of the way less that to its left, where it is an edge all along (seen along the way, with x right
/// and y down); `None` where it is none.
pub(super) fn edge(view: &GreyView, from: PixelPoint, to: PixelPoint, least: f64) -> Option<f64> {
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let length = dx.hypot(dy);
    if length < 4.0 {
        return None;
    }
    let aside = (ASIDE_SHARE * length).max(LEAST_ASIDE_PX) / length;
    let (ax, ay) = (-dy * aside, dx * aside);
    let mut steps = [0.0; PLACES.len()];
    for (step, share) in steps.iter_mut().zip(PLACES) {
        let (x, y) = (from.x + share * dx, from.y + share * dy);
        *step = between(view, x + ax, y + ay)? - between(view, x - ax, y - ay)?;
    }
    let sum: f64 = steps.iter().sum();
    let greatest = steps.iter().map(|step| step.abs()).fold(0.0, f64::max);
    let is_even = steps.iter().all(|step| step * sum.signum() > (EVEN_SHARE * greatest).max(0.5 * least));
    is_even.then_some(sum / PLACES.len() as f64)
}
