//! A disc whose ground has a shading of its own: the centre stays, and so does the truth of its stated doubt.

use super::{LocateOptions, TargetHint, locate_target};
use crate::painted::Canvas;
use filmgauge_quantities::{GreyImage, PixelPoint, TargetKind};

const RADIUS_PX: f64 = 16.0;
const SPREAD_PX: f64 = 0.6;

/// A dark disc under a Gaussian point spread; the ground rises along x, the disc does not.
fn disc(centre: PixelPoint, seed: u64) -> GreyImage {
    let side = 2.0 * centre.x;
    Canvas::new(side as usize, side as usize, |x, y| {
        let (dx, dy) = (x - centre.x, y - centre.y);
        let inwards = (RADIUS_PX - dx.hypot(dy)) / (SPREAD_PX * std::f64::consts::SQRT_2);
        let cover = f64::midpoint(1.0, libm::erf(inwards));
        let ground = 120.0 + 0.8 * dx;
        45.0 * cover + ground * (1.0 - cover)
    })
    .eight(2.0, seed)
}

/// Root mean square error along an axis, px, and of all targets the shares located and inside the 95 % ellipse.
fn trials(ground_may_differ: bool) -> (f64, f64, f64) {
    let options = LocateOptions { ground_may_differ, ..LocateOptions::default() };
    let hint = TargetHint::new(TargetKind::Disc, RADIUS_PX);
    let n = 200_u32;
    let (mut squares, mut located, mut inside) = (0.0, 0.0, 0.0);
    for k in 0..n {
        let part = |step: u32| f64::from(k * step % 50) / 50.0;
        let centre = PixelPoint::new(40.0 + part(7), 40.0 + part(11));
        let Ok(found) = locate_target(&disc(centre, u64::from(k)).view(), centre, &hint, &options) else {
            continue;
        };
        let (dx, dy) = (found.centre.x - centre.x, found.centre.y - centre.y);
        squares += dx * dx + dy * dy;
        located += 1.0;
        inside += f64::from(u8::from(found.cov.mahalanobis2(dx, dy).unwrap() < 5.991));
    }
    ((squares / (2.0 * located)).sqrt(), located / f64::from(n), inside / f64::from(n))
}

#[test]
fn a_ground_that_shades_in_its_own_way_moves_no_disc() {
    let (plain, _, _) = trials(false);
    let (rms, located, inside) = trials(true);
    assert!(rms < 0.009 && plain > 2.0 * rms, "{rms} {plain}");
    // 200 trials know 95 % to 1.5 %.
    assert!(located == 1.0 && inside >= 0.92, "{located} {inside}");
}
