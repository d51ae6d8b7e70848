//! Checks of edges, corners and perforations: exact without noise, honest with it, and refused where there is none.

use super::*;
use filmgauge_quantities::{GreyImage, PixelPoint};
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

const WIDTH: usize = 60;
const HEIGHT: usize = 56;

/// A hole painted on film: turned about its centre, spread by a Gaussian, gathered over each pixel with 9 x 9 samples.
#[derive(Clone, Copy)]
struct Painted {
    centre: PixelPoint,
    width_px: f64,
    height_px: f64,
    turn_rad: f64,
    inside: f64,
    outside: f64,
    spread_px: f64,
}

impl Painted {
    fn new(x: f64, y: f64, turn_rad: f64) -> Self {
        let centre = PixelPoint::new(x, y);
        Self {
            centre,
            width_px: 24.6,
            height_px: 30.2,
            turn_rad,
            inside: 210.0,
            outside: 40.0,
            spread_px: 0.7,
        }
    }

    fn level(&self, x: f64, y: f64) -> f64 {
        let (sin, cos) = self.turn_rad.sin_cos();
        let (dx, dy) = (x - self.centre.x, y - self.centre.y);
        let (u, v) = (dx * cos + dy * sin, dy * cos - dx * sin);
        let soft = |d: f64| 0.5 * (1.0 + libm::erf(d / (self.spread_px * std::f64::consts::SQRT_2)));
        let within = |d: f64, size: f64| soft(d + 0.5 * size) - soft(d - 0.5 * size);
        let cover = within(u, self.width_px) * within(v, self.height_px);
        self.outside + (self.inside - self.outside) * cover
    }

    /// 16-bit samples at 8-bit levels times 256, so that rounding does not count.
    fn image(&self, noise: f64, seed: u64) -> GreyImage {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let noise = Normal::new(0.0, noise).unwrap();
        let pixel = |x: f64, y: f64| {
            let sub = |k: i32| (f64::from(k) + 0.5) / 9.0 - 0.5;
            let samples = (0..81).map(|k| self.level(x + sub(k % 9), y + sub(k / 9)));
            samples.sum::<f64>() / 81.0
        };
        let grey = (0..WIDTH * HEIGHT).map(|i| {
            let level = pixel((i % WIDTH) as f64, (i / WIDTH) as f64) + noise.sample(&mut random);
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
            let stored = (256.0 * level).round().clamp(0.0, 65_535.0) as u16;
            stored
        });
        GreyImage::from_u16(WIDTH, HEIGHT, 16, grey.collect()).unwrap()
    }

    fn near(&self, dx: f64, dy: f64) -> EdgeBox {
        EdgeBox {
            left: self.centre.x - 0.5 * self.width_px + dx,
            right: self.centre.x + 0.5 * self.width_px + dx,
            top: self.centre.y - 0.5 * self.height_px + dy,
            bottom: self.centre.y + 0.5 * self.height_px + dy,
        }
    }
}

fn options() -> EdgeOptions {
    EdgeOptions { noise_floor_grey: 0.2, ..EdgeOptions::default() }
}

#[test]
fn a_hole_is_found_where_it_is_painted() {
    for (x, y, turn) in [(29.0, 27.0, 0.0), (29.37, 27.81, 0.004), (28.6, 27.2, -0.02)] {
        let painted = Painted::new(x, y, turn);
        let image = painted.image(0.0, 1);
        let hole = locate_perforation(&image.view(), &painted.near(2.4, -1.7), &options()).unwrap();
        assert!(hole.centre.distance(painted.centre) < 0.002, "{hole:?}");
        assert!((hole.turn_rad - turn).abs() < 1e-4 && hole.is_bright, "{hole:?}");
        assert!((hole.width_px - 24.6).abs() < 0.01 && (hole.height_px - 30.2).abs() < 0.01, "{hole:?}");
    }
}

#[test]
fn a_dark_hole_serves_as_well() {
    let painted = Painted { inside: 30.0, outside: 190.0, ..Painted::new(29.2, 27.6, 0.003) };
    let image = painted.image(0.0, 1);
    let hole = locate_perforation(&image.view(), &painted.near(-1.0, 1.0), &options()).unwrap();
    assert!(hole.centre.distance(painted.centre) < 0.002 && !hole.is_bright);
}

#[test]
fn a_clipped_hole_is_read_from_what_is_not_clipped() {
    // A clipped edge is read from two or three pixels a line: much doubt, but stated.
    let noisy = EdgeOptions { noise_floor_grey: 0.3 * 256.0, greatest_u_px: 1.0, ..EdgeOptions::default() };
    let (n, mut inside, mut squares, mut stated) = (100_u32, 0, 0.0, 0.0);
    let mut read = 0;
    for seed in 0..n {
        let place = 29.0 + 0.01 * f64::from(seed);
        let painted = Painted { inside: 330.0, ..Painted::new(place, 56.3 - place, 0.002) };
        let image = painted.image(2.0, u64::from(seed));
        let hole = match locate_perforation(&image.view(), &painted.near(1.0, 1.0), &noisy) {
            Ok(hole) => hole,
            Err(failure) => {
                println!("{failure}");
                continue;
            }
        };
        read += 1;
        let (dx, dy) = (hole.centre.x - painted.centre.x, hole.centre.y - painted.centre.y);
        squares += dx * dx + dy * dy;
        stated += hole.cov.xx + hole.cov.yy;
        inside += i32::from(hole.cov.mahalanobis2(dx, dy).unwrap() < 5.991);
    }
    let rms = |sum: f64| (sum / (2.0 * f64::from(read))).sqrt();
    println!(
        "clipped: held {inside} of {read} read of {n}; rms {:.4} px, stated {:.4} px",
        rms(squares),
        rms(stated)
    );
    assert!(read >= 80 && inside * 100 >= read * 90 && rms(squares) < 0.2, "{inside} {}", rms(squares));
}

#[test]
fn a_corner_is_where_its_edges_meet() {
    let painted = Painted::new(29.2, 27.6, 0.01);
    let image = painted.image(0.0, 1);
    let (sin, cos) = 0.01_f64.sin_cos();
    let (u, v) = (-0.5 * 24.6, -0.5 * 30.2);
    let truth = painted.centre.moved(u * cos - v * sin, u * sin + v * cos);
    let arms = CornerArms { to_right: true, to_bottom: true, length_px: 18.0 };
    let corner = locate_corner(&image.view(), truth.moved(1.6, -1.2), arms, &options()).unwrap();
    assert!(corner.at.distance(truth) < 0.003, "{corner:?} {truth:?}");
}

#[test]
fn stated_uncertainties_hold_the_truth_as_often_as_they_say() {
    let (mut inside, n, mut squares, mut stated) = (0, 300, 0.0, 0.0);
    for seed in 0..n {
        let painted = Painted::new(29.0 + 0.003 * f64::from(seed), 27.4 - 0.002 * f64::from(seed), 0.002);
        let image = painted.image(3.0, u64::from(seed as u32));
        let noisy = EdgeOptions { noise_floor_grey: 0.3 * 256.0, ..EdgeOptions::default() };
        let hole = locate_perforation(&image.view(), &painted.near(1.0, 1.0), &noisy).unwrap();
        let (dx, dy) = (hole.centre.x - painted.centre.x, hole.centre.y - painted.centre.y);
        squares += dx * dx + dy * dy;
        stated += hole.cov.xx + hole.cov.yy;
        inside += i32::from(hole.cov.mahalanobis2(dx, dy).unwrap() < 5.991);
    }
    println!(
        "held {inside} of {n}; rms {:.4} px, stated {:.4} px",
        (squares / (2.0 * f64::from(n))).sqrt(),
        (stated / (2.0 * f64::from(n))).sqrt()
    );
    // 95 % of 300 within three standard deviations of the count.
    assert!((273..=297).contains(&inside), "{inside} of {n}");
}

#[test]
fn what_is_no_edge_is_refused_with_its_reason() {
    let flat = GreyImage::from_u8(60, 60, vec![90; 3600]).unwrap();
    let area = EdgeBox { left: 20.0, right: 40.0, top: 20.0, bottom: 40.0 };
    let at = |area: &EdgeBox, step| locate_edge(&flat.view(), area, EdgeRun::Upright, step, &options());
    assert!(matches!(at(&area, EdgeStep::Either), Err(EdgeFailure::NoContrast { .. })));
    let outside = EdgeBox { left: -20.0, right: -10.0, ..area };
    assert!(matches!(at(&outside, EdgeStep::Either), Err(EdgeFailure::OutOfView)));
    let thin = EdgeBox { top: 20.0, bottom: 21.0, ..area };
    assert!(matches!(at(&thin, EdgeStep::Either), Err(EdgeFailure::TooShort { .. })));
    let nowhere = EdgeBox { left: f64::NAN, ..area };
    assert!(matches!(at(&nowhere, EdgeStep::Either), Err(EdgeFailure::OutOfView)));
    let painted = Painted::new(29.0, 27.0, 0.0);
    let image = painted.image(0.0, 1);
    let edge = EdgeBox { left: 12.0, right: 22.0, top: 18.0, bottom: 36.0 };
    let wrong = locate_edge(&image.view(), &edge, EdgeRun::Upright, EdgeStep::Darker, &options());
    assert!(wrong.is_err());
    let larger = EdgeBox { right: painted.near(0.0, 0.0).right + 3.5, ..painted.near(0.0, 0.0) };
    let hole = locate_perforation(&image.view(), &larger, &options());
    assert!(matches!(hole, Err(EdgeFailure::WrongSize { .. })), "{hole:?}");
    assert!(EdgeOptions { reach_px: 1.0, ..options() }.check().is_err());
}
