//! Plumb lines held against made-up edges whose distortion is known.

use super::*;
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

const SIZE_PX: (u32, u32) = (1280, 720);

fn options() -> PlumbLineOptions {
    PlumbLineOptions::of(SIZE_PX)
}

fn lens(k1: f64, k2: f64) -> Lens {
    let PlumbLineOptions { centre, focal_px, .. } = options();
    Lens { k1, k2, ..Lens::pinhole(focal_px, centre.x, centre.y) }
}

/// Six edges, level, upright and slanting, of 25 points each with normal noise across and along.
fn edges(lens: &Lens, noise_px: f64, seed: u64) -> Vec<Vec<PixelPoint>> {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let normal = Normal::new(0.0, noise_px.max(1e-300)).unwrap();
    let ends = [
        [60.0, 40.0, 1220.0, 70.0],
        [50.0, 660.0, 1230.0, 640.0],
        [80.0, 60.0, 60.0, 680.0],
        [1190.0, 30.0, 1215.0, 690.0],
        [100.0, 600.0, 700.0, 50.0],
        [500.0, 680.0, 1200.0, 300.0],
    ];
    let mut edge = |[x, y, to_x, to_y]: [f64; 4]| {
        let at = |k: u32| f64::from(k) / 24.0;
        let ideal = |k: u32| PixelPoint::new(x + at(k) * (to_x - x), y + at(k) * (to_y - y));
        (0..25)
            .map(|k| lens.distort(ideal(k)).moved(normal.sample(&mut random), normal.sample(&mut random)))
            .collect()
    };
    ends.map(&mut edge).to_vec()
}

#[test]
fn exact_edges_give_the_terms_back() {
    for (k1, k2) in [(-0.25, 0.0), (-0.3, 0.12), (0.15, 0.0), (0.0, 0.0)] {
        let found = fit_plumb_lines(&edges(&lens(k1, k2), 0.0, 1), &options()).unwrap();
        assert!((found.lens.k1 - k1).abs() < 1e-6 && (found.lens.k2 - k2).abs() < 1e-5, "{found:?}");
        assert!(found.has_k2 == (k2 != 0.0) && found.rms_px < 1e-6, "{found:?}");
        assert!(found.field.radius_px > 600.0 && (k1 == 0.0) == (found.rms_before_px < 1e-6), "{found:?}");
    }
}

#[test]
fn the_magnification_at_the_centre_is_kept() {
    let found = fit_plumb_lines(&edges(&lens(-0.25, 0.0), 0.1, 2), &options()).unwrap();
    let centre = options().centre;
    let near = found.lens.undistort(centre.moved(1.0, 0.0)).unwrap();
    assert!((near.x - centre.x - 1.0).abs() < 1e-5);
}

#[test]
fn stated_uncertainties_hold_the_truth() {
    const N: u64 = 400;
    for (k1, k2, terms) in [(-0.25, 0.0, RadialChoice::K1), (-0.3, 0.12, RadialChoice::K1K2)] {
        let (mut inside_1, mut inside_2) = (0, 0);
        for seed in 0..N {
            let options = PlumbLineOptions { terms, centre_u_px: 0.0, ..options() };
            let found = fit_plumb_lines(&edges(&lens(k1, k2), 0.3, 100 + seed), &options).unwrap();
            inside_1 += u64::from((found.lens.k1 - k1).abs() <= 1.96 * found.cov[0][0].sqrt());
            inside_2 += u64::from((found.lens.k2 - k2).abs() <= 1.96 * found.cov[1][1].sqrt());
        }
        let share = |n: u64| n as f64 / N as f64;
        assert!((0.93..=0.97).contains(&share(inside_1)), "k1: {}", share(inside_1));
        assert!(k2 == 0.0 || (0.93..=0.97).contains(&share(inside_2)), "k2: {}", share(inside_2));
    }
}

#[test]
fn doubt_about_the_centre_goes_into_the_terms() {
    const N: u64 = 200;
    let (mut inside, mut corner_inside) = (0, 0);
    for seed in 0..N {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(9000 + seed);
        let options = PlumbLineOptions { terms: RadialChoice::K1, ..options() };
        let normal = Normal::new(0.0, options.centre_u_px).unwrap();
        let centre = options.centre.moved(normal.sample(&mut random), normal.sample(&mut random));
        let truth = Lens { k1: -0.08, ..Lens::pinhole(options.focal_px, centre.x, centre.y) };
        // Two edges on one side only: the centre's place is told by nothing.
        let found = fit_plumb_lines(&edges(&truth, 0.3, seed)[..3], &options).unwrap();
        let off = found.lens.k1 - truth.k1;
        inside += u64::from(off.abs() <= 1.96 * found.cov_with_centre[2][2].sqrt());
        assert!(found.cov_with_centre[2][2] > found.cov[0][0]);
        // How far a corner's ideal place moves, against what the lens file's nine moves give.
        let file = crate::LensFile::of_plumb_lines(&found, SIZE_PX);
        let corner = PixelPoint::new(1200.0, 650.0);
        // The whole picture may shift: only what bends a line counts, the way from the middle to the corner.
        let way = |lens: &Lens| {
            let [far, near] =
                [corner, PixelPoint::new(640.0, 360.0)].map(|point| lens.undistort(point).unwrap());
            far.x - near.x
        };
        let moves: f64 =
            (0..9).map(|axis| (way(&file.perturbed(axis, 1.0)) - way(&found.lens)).powi(2)).sum();
        corner_inside += u64::from((way(&found.lens) - way(&truth)).abs() <= 1.96 * moves.sqrt());
    }
    let share = |n: u64| n as f64 / N as f64;
    println!("k1 held: {}, a corner's way from the middle: {}", share(inside), share(corner_inside));
    // 95 % of 200 within three standard deviations of the count; what is left of points about a wrong centre hangs together,
    // which widens the interval a little more than it need be.
    assert!((0.90..=0.99).contains(&share(inside)), "{}", share(inside));
    assert!((0.90..=0.99).contains(&share(corner_inside)), "{}", share(corner_inside));
}

#[test]
fn points_that_hang_together_count_as_fewer() {
    let mut bowed = edges(&lens(-0.2, 0.0), 0.02, 5);
    let plain = fit_plumb_lines(&bowed, &options()).unwrap();
    for (n, edge) in bowed.iter_mut().enumerate() {
        for (k, point) in edge.iter_mut().enumerate() {
            let wave = 0.4 * (0.5 * k as f64 + n as f64).sin();
            *point = point.moved(wave, wave);
        }
    }
    let waved = fit_plumb_lines(&bowed, &options()).unwrap();
    assert!(plain.neighbour_correlation < 0.2 && waved.neighbour_correlation > 0.6, "{waved:?}");
    let per_rms = |fit: &PlumbLineFit| fit.cov[0][0].sqrt() / fit.rms_px;
    assert!(per_rms(&waved) > 1.8 * per_rms(&plain), "{plain:?} {waved:?}");
}

#[test]
fn edges_that_tell_nothing_are_refused_with_a_reason() {
    let good = edges(&lens(-0.2, 0.0), 0.2, 3);
    let refused = |edges: &[Vec<PixelPoint>], part: &str| {
        let said = fit_plumb_lines(edges, &options()).unwrap_err().to_string();
        assert!(said.contains(part), "{said}");
    };
    refused(&good[..2], "2 straight edges are too few");
    let mut short = good.clone();
    short[1].truncate(3);
    refused(&short, "edge 1 (from 0) has 3 points");
    let mut stray = good.clone();
    stray[2][0].y = f64::NAN;
    refused(&stray, "edge 2 (from 0) is no line");
    // Through the centre every line stays straight, whatever the lens.
    let centre = options().centre;
    let through = |angle: f64| -> Vec<PixelPoint> {
        let (sin, cos) = angle.sin_cos();
        let wobble = |k: i32| 0.2 * f64::from((k * 7).rem_euclid(5) - 2);
        (-10..=10)
            .map(|k| {
                centre.moved(
                    30.0 * f64::from(k) * cos - wobble(k) * sin,
                    30.0 * f64::from(k) * sin + wobble(k) * cos,
                )
            })
            .collect()
    };
    refused(&[through(0.1), through(0.8), through(1.5)], "do not tell the distortion");
    let options = PlumbLineOptions { focal_px: 0.0, ..options() };
    assert!(fit_plumb_lines(&good, &options).is_err());
}
