//! Recovers painted centres: bias, the Cramér-Rao bound, stated ellipses, shading, blur, bad input.

use super::*;
use crate::painted::{Canvas, Painted};
use filmgauge_quantities::GreyImage;
use rand_distr::{Distribution, Uniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

fn canvas(target: &Painted) -> Canvas {
    let size = (2.0 * target.radius_px) as usize + 44;
    Canvas::new(size, size, |_, _| 110.0).paint(target)
}

fn middle(radius_px: f64) -> f64 {
    radius_px + 22.0
}

/// Covariance bound of the window used, with the two shading unknowns: methods of Robinson & Milanfar 2004
/// (IEEE Trans. Image Processing 13:1185-1199) for a pattern known up to its half-turn; computed from the
/// stated formula on the noise-free picture.
fn bound(picture: &Canvas, target: &Painted, noise: f64) -> PixelCov {
    let options = LocateOptions::default();
    let image = picture.sixteen();
    let window = window::Window::cut(
        &image.view(),
        target.centre,
        outline::Outline::round(options.inner_window_px(target.radius_px)),
        &options,
    )
    .unwrap();
    let centre = target.centre.moved(-(window.origin.0 as f64), -(window.origin.1 as f64));
    let mut pairing = pairs::Pairing::new(&window);
    let pairs = pairing.about(centre, centre);
    let mut matrix = nalgebra::Matrix4::zeros();
    for i in 0..pairs.dx.len() {
        let at = |column: &[f32]| f64::from(column[i]);
        let (slope_x, slope_y) = (at(&pairs.slope_x) / 256.0, at(&pairs.slope_y) / 256.0);
        let row = nalgebra::Vector4::new(slope_x, slope_y, -2.0 * at(&pairs.dx), -2.0 * at(&pairs.dy));
        matrix += row * row.transpose();
    }
    let cov = matrix.try_inverse().unwrap() * (4.0 * (noise * noise + 1.0 / 12.0));
    PixelCov { xx: cov[(0, 0)], xy: cov[(0, 1)], yy: cov[(1, 1)] }
}

struct Trials {
    ratio: f64,
    inside: f64,
    failures: usize,
}

fn trials(radius_px: f64, noise: f64, n: usize, seed: u64) -> Trials {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let any = Uniform::new(-0.5, 0.5).unwrap();
    let (mut squares, mut bounds, mut inside, mut failures) = (0.0, 0.0, 0, 0);
    for k in 0..n {
        let mut draw = || any.sample(&mut random);
        let mut target = Painted::new(middle(radius_px) + draw(), middle(radius_px) + draw(), radius_px);
        target.angle_rad = 3.0 * draw();
        let near = target.centre.moved(1.4 * draw(), 1.4 * draw());
        let picture = canvas(&target);
        let image = picture.eight(noise, seed + 1 + k as u64);
        match locate(&image.view(), near, radius_px, &LocateOptions::default()) {
            Ok(located) => {
                let (dx, dy) = (located.centre.x - target.centre.x, located.centre.y - target.centre.y);
                let bound = bound(&picture, &target, noise);
                squares += dx * dx + dy * dy;
                bounds += bound.xx + bound.yy;
                inside += usize::from(located.cov.mahalanobis2(dx, dy).unwrap() < 5.991);
            }
            Err(failure) => {
                println!("R {radius_px} noise {noise}, picture {k}: {failure}");
                failures += 1;
            }
        }
    }
    Trials { ratio: f64::sqrt(squares / bounds), inside: inside as f64 / n as f64, failures }
}

#[test]
fn noise_errors_reach_the_bound_and_the_ellipse_holds() {
    for (radius_px, noise, seed) in [(11.0, 2.0, 1), (11.0, 5.0, 2), (18.0, 2.0, 3), (18.0, 5.0, 4)] {
        let found = trials(radius_px, noise, 2000, seed * 100_000);
        println!(
            "R {radius_px} noise {noise}: {:.3} x bound, {:.2} % inside",
            found.ratio,
            found.inside * 100.0
        );
        assert_eq!(found.failures, 0);
        assert!(found.ratio < 1.08, "R {radius_px} noise {noise}: {}", found.ratio);
        assert!((0.93..=0.97).contains(&found.inside), "R {radius_px} noise {noise}: {}", found.inside);
    }
}

fn bias(radius_px: f64, change: impl Fn(f64, f64, f64) -> f64, smear: (f64, f64)) -> f64 {
    let (mut least, mut greatest) = ((f64::MAX, f64::MAX), (f64::MIN, f64::MIN));
    for k in 0..25 {
        let (fx, fy) = (f64::from(k) * 0.08, f64::from(k) * 0.053);
        let mut target = Painted::new(middle(radius_px) + fx, middle(radius_px) + fy, radius_px);
        target.angle_rad = 0.26 * f64::from(k);
        target.smear = smear;
        let image = canvas(&target).changed(&change).sixteen();
        let near = target.centre.moved(0.7, -0.6);
        let located = locate(&image.view(), near, radius_px, &LocateOptions::default()).unwrap();
        let (dx, dy) = (located.centre.x - target.centre.x, located.centre.y - target.centre.y);
        least = (least.0.min(dx), least.1.min(dy));
        greatest = (greatest.0.max(dx), greatest.1.max(dy));
    }
    let spread = (greatest.0 - least.0).max(greatest.1 - least.1);
    let offset = greatest.0.abs().max(least.0.abs()).max(greatest.1.abs()).max(least.1.abs());
    println!("R {radius_px} smear {smear:?}: bias peak to peak {spread:.5}, greatest {offset:.5} px");
    spread.max(offset)
}

#[test]
fn without_noise_the_bias_stays_below_three_thousandths() {
    for radius_px in [7.0, 11.0, 18.0] {
        assert!(bias(radius_px, |_, _, level| level, (0.0, 0.0)) <= 0.003);
    }
}

#[test]
fn a_linear_shading_does_not_move_the_centre() {
    assert!(bias(11.0, |x, y, level| level + 2.0 * (x - 33.0) - 1.0 * (y - 33.0), (0.0, 0.0)) <= 0.003);
}

#[test]
fn straight_blur_does_not_move_the_centre() {
    for smear in [2.0, 4.0, 8.0] {
        assert!(bias(14.0, |_, _, level| level, (smear, 0.2 * smear)) <= 0.003);
    }
}

#[test]
fn twelve_bits_and_a_strided_view_give_the_same_centre() {
    let target = Painted::new(33.2, 33.7, 11.0);
    let canvas = canvas(&target);
    let wide: Vec<u16> = canvas.levels.iter().map(|level| (16.0 * level) as u16).collect();
    let image = GreyImage::from_u16(canvas.width, canvas.height, 12, wide).unwrap();
    let located = locate(&image.view(), target.centre, 11.0, &LocateOptions::default()).unwrap();
    assert!(located.centre.distance(target.centre) < 0.003);
}

#[test]
fn saturated_paint_widens_the_ellipse_but_does_not_shift_it() {
    let mut target = Painted::new(33.3, 33.6, 11.0);
    target.bright = 300.0;
    let image = canvas(&target).eight(2.0, 7);
    let located = locate(&image.view(), target.centre, 11.0, &LocateOptions::default()).unwrap();
    assert!(located.saturated_share > 0.3);
    let (dx, dy) = (located.centre.x - target.centre.x, located.centre.y - target.centre.y);
    assert!(located.cov.mahalanobis2(dx, dy).unwrap() < 14.0, "{dx} {dy} {:?}", located.cov);
}

#[test]
fn a_half_covered_target_is_refused_or_its_ellipse_says_so() {
    let mut worst: f64 = 0.0;
    let mut n_marks = 0;
    for k in 0..40_u64 {
        let target = Painted::new(33.3, 33.6, 11.0);
        let edge = 22.0 + k as f64 * 0.55;
        for opacity in [0.15, 0.3, 0.6, 0.9] {
            let veil = |x: f64, _y: f64, level: f64| {
                let cover = opacity / (1.0 + ((x - edge) / 1.5).exp());
                level * (1.0 - cover) + 150.0 * cover
            };
            let image = canvas(&target).changed(veil).eight(2.5, k);
            if let Ok(located) = locate(&image.view(), target.centre, 11.0, &LocateOptions::default()) {
                let (dx, dy) = (located.centre.x - target.centre.x, located.centre.y - target.centre.y);
                let d2 = located.cov.mahalanobis2(dx, dy).unwrap();
                worst = worst.max(d2);
                n_marks += 1;
            }
        }
    }
    println!("half covered: {n_marks} of 160 marked, worst squared distance {worst:.1}");
    assert!(worst < 20.0 && n_marks > 50);
}

#[test]
fn bad_input_is_a_reason_never_a_centre() {
    let options = LocateOptions::default();
    let flat = GreyImage::from_u8(64, 64, vec![90; 4096]).unwrap();
    let at = PixelPoint::new(32.0, 32.0);
    let none = locate(&flat.view(), at, 11.0, &options);
    assert!(matches!(none, Err(LocateFailure::NoContrast { .. })), "{none:?}");
    let white = GreyImage::from_u8(64, 64, vec![255; 4096]).unwrap();
    assert!(matches!(locate(&white.view(), at, 11.0, &options), Err(LocateFailure::Saturated { .. })));
    let outside = [(-5.0, 9.0), (1.0, 32.0), (f64::NAN, 3.0), (1e300, 1e300), (f64::INFINITY, 0.0)];
    for (x, y) in outside {
        assert_eq!(
            locate(&flat.view(), PixelPoint::new(x, y), 11.0, &options),
            Err(LocateFailure::OutOfView)
        );
    }
    assert!(matches!(locate(&flat.view(), at, 2.9, &options), Err(LocateFailure::TooSmall { .. })));
    assert!(matches!(locate(&flat.view(), at, f64::NAN, &options), Err(LocateFailure::TooSmall { .. })));
    assert_eq!(locate(&flat.view(), at, 1e9, &options), Err(LocateFailure::OutOfView));
    let small = GreyImage::from_u8(8, 8, vec![90; 64]).unwrap();
    assert_eq!(
        locate(&small.view(), PixelPoint::new(4.0, 4.0), 11.0, &options),
        Err(LocateFailure::OutOfView)
    );
    let mut noise = Canvas::new(64, 64, |_, _| 120.0);
    noise.levels[0] = 121.0;
    assert!(locate(&noise.eight(5.0, 3).view(), at, 11.0, &options).is_err());
}

#[test]
fn a_quadrants_edges_and_smear_are_read() {
    for (smear, noise, seed) in [((0.0, 0.0), 2.0, 1), ((7.0, 3.0), 2.0, 2), ((-4.0, 11.0), 2.0, 3)] {
        let target =
            Painted { smear, angle_rad: 0.4, ..Painted::new(middle(18.0) + 0.3, middle(18.0), 18.0) };
        let image = canvas(&target).eight(noise, seed);
        let hint = TargetHint { smear_px: 12.0, ..TargetHint::new(TargetKind::Quadrant, 18.0) };
        let options = LocateOptions::default();
        let located = locate_target(&image.view(), target.centre, &hint, &options).unwrap();
        let shape = target_shape(&image.view(), &located, &hint, &options).unwrap();
        println!("smear {smear:?}: {shape:?}");
        for (found, u, truth) in [
            (shape.edges_rad[0], shape.u_edges_rad[0], 0.4),
            (shape.edges_rad[1], shape.u_edges_rad[1], 0.4 + std::f64::consts::FRAC_PI_2),
        ] {
            assert!((found - truth).abs() < 4.0 * u && u < 0.02, "{found} {truth} ± {u}");
        }
        assert!(shape.residual < 1.15 * noise, "{}", shape.residual);
        let length = smear.0.hypot(smear.1);
        if let Some(found) = shape.smear {
            let off = (found.length_px() - length).abs();
            assert!(off < 4.0 * found.u_px && found.u_px < 0.2, "{found:?} {length}");
        } else {
            assert!(length < 2.0);
            assert!((shape.spread_px - 0.7).abs() < 0.05, "{}", shape.spread_px);
        }
    }
}

#[test]
fn another_kind_is_refused() {
    let target = Painted::new(middle(14.0), middle(14.0), 14.0);
    let image = canvas(&target).eight(2.0, 3);
    let options = LocateOptions::default();
    for kind in [TargetKind::Disc, TargetKind::Ring, TargetKind::Cross, TargetKind::Patch] {
        let found = locate_target(&image.view(), target.centre, &TargetHint::new(kind, 14.0), &options);
        assert_eq!(found, Err(LocateFailure::NotOfKind { kind }));
    }
    let hint = TargetHint::new(TargetKind::Quadrant, 14.0);
    assert!(locate_target(&image.view(), target.centre, &hint, &options).is_ok());
    let large = TargetHint::new(TargetKind::Disc, 60.0);
    assert_eq!(locate_target(&image.view(), target.centre, &large, &options), Err(LocateFailure::OutOfView));
    let none = TargetHint::new(TargetKind::Disc, f64::NAN);
    assert!(matches!(
        locate_target(&image.view(), target.centre, &none, &options),
        Err(LocateFailure::TooSmall { .. })
    ));
}

#[test]
fn black_white_and_bare_ground_give_reasons() {
    let options = LocateOptions::default();
    let at = PixelPoint::new(40.0, 40.0);
    for kind in [TargetKind::Quadrant, TargetKind::Disc, TargetKind::Ring, TargetKind::Cross] {
        let hint = TargetHint::new(kind, 12.0);
        for level in [0, 255] {
            let image = GreyImage::from_u8(80, 80, vec![level; 6400]).unwrap();
            let found = locate_target(&image.view(), at, &hint, &options);
            assert!(
                matches!(found, Err(LocateFailure::NoContrast { .. } | LocateFailure::Saturated { .. })),
                "{found:?}"
            );
        }
        let ground = Canvas::new(80, 80, crate::painted::uneven).eight(2.0, 9);
        let found = locate_target(&ground.view(), at, &hint, &options);
        assert!(found.is_err(), "{kind:?}: {found:?}");
    }
}

#[test]
fn an_edge_alone_is_no_target() {
    let edge = Canvas::new(64, 64, |x, _| if x < 32.0 { 60.0 } else { 190.0 }).eight(2.0, 5);
    let found = locate(&edge.view(), PixelPoint::new(31.4, 32.0), 11.0, &LocateOptions::default());
    assert!(found.is_err(), "{found:?}");
}

#[test]
fn settings_out_of_range_are_named() {
    assert!(LocateOptions::default().check().is_ok());
    let wrong = LocateOptions { window_share: 1.5, ..LocateOptions::default() };
    assert!(wrong.check().unwrap_err().to_string().contains("window_share"));
}
