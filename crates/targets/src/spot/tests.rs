//! Tests of spotting on painted frames.

use super::*;
use crate::painted::{Canvas, Painted, uneven};
use filmgauge_quantities::GreyImage;

fn crowd(seed: u64) -> (Vec<Painted>, GreyImage) {
    let mut canvas = Canvas::new(1280, 448, uneven);
    let mut targets = Vec::new();
    for k in 0..24_u32 {
        let (column, row) = (k % 8, k / 8);
        let mut target = Painted::new(
            80.0 + 155.0 * f64::from(column) + 0.37 * f64::from(k),
            75.0 + 145.0 * f64::from(row) + 0.71 * f64::from(k),
            7.0 + f64::from(k),
        );
        target.angle_rad = 0.13 * f64::from(k);
        target.bright = 195.0 - 3.0 * f64::from(k);
        canvas = canvas.paint(&target);
        targets.push(target);
    }
    (targets, canvas.eight(2.5, seed))
}

#[test]
fn every_quadrant_of_radius_7_to_30_is_found_and_little_else() {
    for seed in 1..4 {
        let (targets, image) = crowd(seed);
        let spots = spot(&image.view(), &SpotOptions::default()).unwrap();
        for target in &targets {
            let found = spots.iter().find(|s| s.centre.distance(target.centre) < 0.2);
            let found = found.unwrap_or_else(|| panic!("radius {} missed", target.radius_px));
            assert_eq!(found.kind, TargetKind::Quadrant);
            assert!(
                (found.radius_px / target.radius_px - 1.0).abs() < 0.12,
                "{} {}",
                found.radius_px,
                target.radius_px
            );
            let turn = (found.angle_rad - target.angle_rad).rem_euclid(std::f64::consts::PI);
            assert!(turn.min(std::f64::consts::PI - turn) < 0.06, "turned by {turn}");
        }
        assert!(spots.len() <= targets.len() + 1, "{} found", spots.len());
        assert!(spots.windows(2).all(|two| two[0].score >= two[1].score));
    }
}

#[test]
fn frames_without_targets_give_none() {
    let bare = Canvas::new(640, 400, uneven).eight(2.5, 9);
    assert!(spot(&bare.view(), &SpotOptions::default()).unwrap().is_empty());
    for level in [0, 128, 255] {
        let flat = GreyImage::from_u8(64, 48, vec![level; 64 * 48]).unwrap();
        assert!(spot(&flat.view(), &SpotOptions::default()).unwrap().is_empty());
    }
    let tiny = GreyImage::from_u8(3, 2, vec![7; 6]).unwrap();
    assert!(spot(&tiny.view(), &SpotOptions::default()).unwrap().is_empty());
}

/// Level of a target of a kind at a place of its own disc, dark 45 and light 205; `None` outside it.
fn painted(kind: TargetKind, u: f64, v: f64) -> Option<f64> {
    let r = u.hypot(v);
    let is_light = match kind {
        TargetKind::Cross => u.abs() > 0.16 && v.abs() > 0.16,
        TargetKind::Quadrant => u * v > 0.0,
        TargetKind::Disc | TargetKind::Ring | TargetKind::Patch => false,
    };
    let is_hole = kind == TargetKind::Ring && r < 0.5;
    (r < 1.0 && !is_hole).then_some(if is_light { 205.0 } else { 45.0 })
}

#[test]
fn each_kind_is_told_from_the_others_at_a_slant() {
    let kinds = SpotOptions::default().kinds;
    let at = |x: f64, y: f64| {
        let column = (x / 120.0).floor().min(3.0);
        let kind = kinds[column as usize];
        // Turned by 0.4 rad and shortened to 0.8 across that.
        let (dx, dy) = (x - 120.0 * column - 60.0, y - 60.0);
        let (sin, cos) = 0.4_f64.sin_cos();
        let (u, v) = ((cos * dx + sin * dy) / 30.0, (cos * dy - sin * dx) / 24.0);
        painted(kind, u, v).unwrap_or(125.0)
    };
    // Pixels are means of nine samples.
    let offsets = [-1.0 / 3.0, 0.0, 1.0 / 3.0];
    let mean = |x: f64, y: f64| {
        let samples = offsets.iter().flat_map(|dx| offsets.iter().map(move |dy| (dx, dy)));
        samples.map(|(dx, dy)| at(x + dx, y + dy)).sum::<f64>() / 9.0
    };
    let image = Canvas::new(480, 120, mean).eight(2.0, 5);
    let found = spot(&image.view(), &SpotOptions::default()).unwrap();
    assert_eq!(found.len(), kinds.len(), "{found:?}");
    for (column, kind) in kinds.iter().enumerate() {
        let centre = PixelPoint::new(120.0 * column as f64 + 60.0, 60.0);
        let there = found.iter().find(|spot| spot.kind == *kind).unwrap();
        assert!(there.centre.distance(centre) < 0.1, "{there:?}");
        assert!((there.radius_px - 30.0).abs() < 2.5 && (there.axis_ratio - 0.8).abs() < 0.06, "{there:?}");
    }
}

#[test]
fn large_discs_and_rings_are_found_on_uneven_ground_with_a_true_doubt() {
    let targets =
        [(TargetKind::Disc, PixelPoint::new(99.7, 100.2)), (TargetKind::Ring, PixelPoint::new(299.7, 100.2))];
    let mut n_far = 0;
    for seed in 0..6_u32 {
        let ground = |x: f64, y: f64| {
            115.0 + 8.0 * ((x + 0.4 * y) / 14.0 + f64::from(seed)).sin() + 4.0 * (y / 6.0).sin()
        };
        let at = |x: f64, y: f64| {
            let (kind, centre) = targets[usize::from(x > 200.0)];
            painted(kind, (x - centre.x) / 60.0, (y - centre.y) / 55.0).unwrap_or_else(|| ground(x, y))
        };
        let image = Canvas::new(400, 200, at).eight(3.0, u64::from(seed));
        let found = spot(&image.view(), &SpotOptions::default()).unwrap();
        for (kind, centre) in targets {
            let there = found.iter().find(|spot| spot.kind == kind).unwrap();
            let away = there.centre.distance(centre);
            assert!(away < 1.0, "{there:?}");
            n_far += usize::from(away > 3.0 * there.cov.xx.max(there.cov.yy).sqrt());
        }
    }
    assert!(n_far <= 1, "{n_far} of 12 lie further off than their doubt allows");
}

/// A chessboard of 24 px squares inside a grey frame; its inner corners lie at multiples of 24 from (100.5, 60.5).
fn chessboard() -> GreyImage {
    let at = |x: f64, y: f64| {
        let (column, row) = (((x - 76.5) / 24.0).floor(), ((y - 36.5) / 24.0).floor());
        if (0.0..8.0).contains(&column) && (0.0..6.0).contains(&row) {
            if (column + row).rem_euclid(2.0) < 0.5 { 40.0 } else { 200.0 }
        } else {
            120.0
        }
    };
    Canvas::new(360, 240, at).eight(2.0, 3)
}

#[test]
fn corners_of_a_chessboard_are_no_targets_unless_asked_for() {
    let image = chessboard();
    assert!(spot(&image.view(), &SpotOptions::default()).unwrap().is_empty());
    let options = SpotOptions { pattern_may_continue: true, ..SpotOptions::default() };
    let found = spot(&image.view(), &options).unwrap();
    for (column, row) in (0..7).flat_map(|column| (0..5).map(move |row| (column, row))) {
        let corner = PixelPoint::new(100.5 + 24.0 * f64::from(column), 60.5 + 24.0 * f64::from(row));
        assert!(found.iter().any(|spot| spot.centre.distance(corner) < 0.6), "{corner:?}");
    }
}

#[test]
fn settings_out_of_range_are_named() {
    let tiny = GreyImage::from_u8(3, 2, vec![7; 6]).unwrap();
    let small = SpotOptions { least_radius_px: 2.0, ..SpotOptions::default() };
    assert!(spot(&tiny.view(), &small).unwrap_err().to_string().contains("least_radius_px"));
    let none = SpotOptions { kinds: Vec::new(), ..SpotOptions::default() };
    assert!(spot(&tiny.view(), &none).unwrap_err().to_string().contains("kinds"));
}
