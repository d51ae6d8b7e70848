//! Pictures against truth: where the renderer puts a target's centre, at rest and in motion.
//!
//! The centre is found as the centroid of grey, which holds for any point-symmetric target and any even spread; the
//! fineness of the sub-pixels is judged by the shift that a least-squares matcher would see against finer ones.

#![expect(clippy::unwrap_used, reason = "a test that cannot set itself up has failed")]

use filmgauge_proving::{Renderer, Scene, TruthMark, proof_scene, simulate, truth_marks};

/// Moments of grey against the even background inside a circle: the centroid of any point-symmetric target.
fn centroid(grey: &[f32], width: usize, mark: &TruthMark, background: f64) -> (f64, f64) {
    let reach = mark.radius_px + 4.0;
    let (mut sum, mut sum_x, mut sum_y) = (0.0, 0.0, 0.0);
    for (index, &level) in grey.iter().enumerate() {
        let x = f64::from(u32::try_from(index % width).unwrap());
        let y = f64::from(u32::try_from(index / width).unwrap());
        if (x - mark.x_px).hypot(y - mark.y_px) < reach {
            let weight = f64::from(level) - background;
            sum += weight;
            sum_x += weight * (x - mark.x_px);
            sum_y += weight * (y - mark.y_px);
        }
    }
    (sum_x / sum, sum_y / sum)
}

fn errors(scene: &Scene, background: f64) -> Vec<(String, f64, f64)> {
    let truth = simulate(scene).unwrap();
    let renderer = Renderer::new(scene, &truth, 0).unwrap();
    let frame = 0;
    let picture = renderer.noise_free(frame);
    truth_marks(scene, &truth, 0)
        .iter()
        .filter(|mark| mark.frame == frame && mark.visible)
        .map(|mark| {
            let (dx, dy) = centroid(&picture, scene.cameras[0].width_px, mark, background);
            (mark.target.clone(), dx, dy)
        })
        .collect()
}

#[test]
fn every_kind_of_target_is_where_the_truth_says() {
    let mut scene = proof_scene();
    // Dark enough that no target's mean grey equals the background's, which would leave no centroid.
    scene.cameras[0].picture.ground_grey = 0.0;
    let all = errors(&scene, 0.0);
    assert_eq!(all.len(), 16);
    for (target, dx, dy) in all {
        println!("{target}: {dx:+.6} {dy:+.6} px");
        assert!(dx.abs() < 1e-3 && dy.abs() < 1e-3, "{target}: {dx} {dy}");
    }
}

/// The shift that best explains the difference of two pictures about a mark, to first order.
fn apparent_shift(coarse: &[f32], fine: &[f32], width: usize, mark: &TruthMark) -> (f64, f64) {
    let mut normal = [0.0; 5];
    for (index, (a, b)) in coarse.iter().zip(fine).enumerate() {
        let x = f64::from(u32::try_from(index % width).unwrap());
        let y = f64::from(u32::try_from(index / width).unwrap());
        if (x - mark.x_px).hypot(y - mark.y_px) < mark.radius_px {
            let slope = |step: usize| 0.5 * f64::from(fine[index - step] - fine[index + step]);
            let (gx, gy, difference) = (slope(1), slope(width), f64::from(a - b));
            let terms = [gx * gx, gx * gy, gy * gy, gx * difference, gy * difference];
            normal.iter_mut().zip(terms).for_each(|(sum, term)| *sum += term);
        }
    }
    let [xx, xy, yy, xd, yd] = normal;
    let det = xx * yy - xy * xy;
    ((yy * xd - xy * yd) / det, (xx * yd - xy * xd) / det)
}

#[test]
fn coarser_subpixels_shift_no_target() {
    let mut scene = proof_scene();
    let truth = simulate(&scene).unwrap();
    let marks = truth_marks(&scene, &truth, 0);
    scene.cameras[0].picture.subpixels = 8;
    let fine = Renderer::new(&scene, &truth, 0).unwrap().noise_free(0);
    for (subpixels, limit) in [(2, 2e-3), (3, 5e-4), (4, 3e-4)] {
        scene.cameras[0].picture.subpixels = subpixels;
        let coarse = Renderer::new(&scene, &truth, 0).unwrap().noise_free(0);
        let mut worst = 0.0_f64;
        for mark in marks.iter().filter(|mark| mark.frame == 0) {
            let (dx, dy) = apparent_shift(&coarse, &fine, 480, mark);
            worst = worst.max(dx.abs()).max(dy.abs());
        }
        println!("{subpixels} subpixels: at most {worst:.6} px");
        assert!(worst < limit, "{subpixels} subpixels: {worst} px");
    }
}

#[test]
fn motion_blur_is_even_about_mid_exposure() {
    let mut scene = proof_scene();
    scene.cameras[0].picture.ground_grey = 0.0;
    scene.cameras[0].exposure_s = 0.0005;
    scene.cameras[0].picture.instants = 4;
    scene.car.speed_km_h = 90.0;
    scene.car.nose_m = 1.0;
    for target in &mut scene.targets {
        // On the car, whose c.g. is about at (-1, 0.5) around contact: 12.5 mm, 1.25 px, within the exposure.
        target.body = filmgauge_proving::BodyName::Car;
        target.at_m = [target.at_m[0] + 1.0, target.at_m[1] - 0.5];
    }
    let all = errors(&scene, 0.0);
    assert!(all.len() >= 12);
    for (target, dx, dy) in all {
        assert!(dx.abs() < 1e-3 && dy.abs() < 1e-3, "{target}: {dx} {dy}");
    }
}

#[test]
fn light_and_dark_keep_their_levels_inside_a_target() {
    let scene = proof_scene();
    let truth = simulate(&scene).unwrap();
    let picture = Renderer::new(&scene, &truth, 0).unwrap().noise_free(0);
    let (lowest, highest) =
        picture.iter().fold((f32::MAX, 0.0_f32), |(low, high), &g| (low.min(g), high.max(g)));
    let scale = 65_535.0 / 255.0;
    assert!((lowest / scale - 42.0).abs() < 0.1, "{lowest}");
    assert!((highest / scale - 205.0).abs() < 0.1, "{highest}");
}

#[test]
fn cameras_and_lenses_out_of_range_are_refused() {
    let mut scene = proof_scene();
    let truth = simulate(&scene).unwrap();
    assert!(Renderer::new(&scene, &truth, 3).unwrap_err().to_string().contains("no camera number 3"));
    assert!(truth_marks(&scene, &truth, 3).is_empty());
    scene.cameras[0].lens.k1 = -9.0;
    assert!(Renderer::new(&scene, &truth, 0).unwrap_err().to_string().contains("proof"));
}
