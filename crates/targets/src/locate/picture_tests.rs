//! Pictures that lossy coding has moved piece by piece: their residual is no sign of cover, and the stated ellipse holds.

use super::*;
use crate::painted::{Canvas, Painted};
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

const SIDE: usize = 48;
const RADIUS_PX: f64 = 11.0;

/// Side of the pieces that move on their own, px: a block of the transforms in common use.
const BLOCK: usize = 8;

/// How far each piece moves, standard deviation per axis, px.
const PIECE_PX: f64 = 0.08;

/// What is left of the noise; coding takes most of it away.
const NOISE: f64 = 0.8;

/// A target whose blocks are each painted a little off.
fn moved_in_pieces(seed: u64) -> (filmgauge_quantities::GreyImage, PixelPoint) {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let way = Normal::new(0.0, PIECE_PX).unwrap();
    let truth = PixelPoint::new(23.6 + way.sample(&mut random), 24.2 + way.sample(&mut random));
    let mut target = Painted::new(truth.x, truth.y, RADIUS_PX);
    target.angle_rad = seed as f64;
    let mut levels = vec![110.0; SIDE * SIDE];
    for block in 0..(SIDE / BLOCK).pow(2) {
        let (left, top) = (block % (SIDE / BLOCK) * BLOCK, block / (SIDE / BLOCK) * BLOCK);
        target.centre = truth.moved(way.sample(&mut random), way.sample(&mut random));
        for i in 0..BLOCK * BLOCK {
            let (x, y) = (left + i % BLOCK, top + i / BLOCK);
            levels[y * SIDE + x] = target.pixel(x as f64, y as f64, 110.0);
        }
    }
    (Canvas { width: SIDE, height: SIDE, levels }.eight(NOISE, seed), truth)
}

/// Shares of 200 pictures whose variance was widened, and whose 95 % ellipse holds the truth; RMS error per axis.
fn shares(picture_u_px: f64) -> (f64, f64, f64) {
    let options = LocateOptions { picture_u_px, ..LocateOptions::default() };
    let (mut n_widened, mut n_inside, mut squares) = (0, 0, 0.0);
    for seed in 0..200 {
        let (image, truth) = moved_in_pieces(seed);
        let located = locate(&image.view(), truth.moved(0.3, -0.2), RADIUS_PX, &options).unwrap();
        let (dx, dy) = (located.centre.x - truth.x, located.centre.y - truth.y);
        n_widened += usize::from(located.widening > 1.1);
        n_inside += usize::from(located.cov.mahalanobis2(dx, dy).unwrap() < 5.991);
        squares += (dx * dx + dy * dy) / 2.0;
    }
    (n_widened as f64 / 200.0, n_inside as f64 / 200.0, (squares / 200.0_f64).sqrt())
}

#[test]
fn pieces_that_coding_moved_are_no_cover() {
    let (widened, inside, rms_px) = shares(0.0);
    assert!(widened > 0.3 && inside < 0.5, "unaware: {widened} widened, {inside} inside");
    let (widened, inside, _) = shares(rms_px);
    assert!(widened < 0.15 && inside > 0.92, "aware of {rms_px} px: {widened} widened, {inside} inside");
}

#[test]
fn a_shadow_edge_is_still_told_on_coded_film() {
    // Half of the target in a shade that moves its centre by far more than coding does.
    let target = Painted::new(23.6, 24.2, RADIUS_PX);
    let image = Canvas::new(SIDE, SIDE, |_, _| 110.0)
        .paint(&target)
        .changed(|x, y, level| if x + 0.4 * y > 38.0 { 0.6 * level + 60.0 } else { level })
        .eight(NOISE, 5);
    let options = LocateOptions { picture_u_px: 0.04, ..LocateOptions::default() };
    match locate(&image.view(), target.centre, RADIUS_PX, &options) {
        Ok(located) => {
            let (dx, dy) = (located.centre.x - target.centre.x, located.centre.y - target.centre.y);
            assert!(located.widening > 2.0, "{located:?}");
            assert!(located.cov.mahalanobis2(dx, dy).unwrap() < 16.0, "{located:?}");
        }
        Err(failure) => assert!(matches!(failure, LocateFailure::NotSymmetric { .. }), "{failure}"),
    }
}
