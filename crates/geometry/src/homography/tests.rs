//! Tests of the homography: exact recovery, covariance, refusals and the naming of points that spoil it.

use super::*;

/// A camera that looks at the plane at a slant.
fn truth() -> Matrix3<f64> {
    Matrix3::new(180.0, 6.0, 420.0, 14.0, -176.0, 610.0, 0.021, 0.004, 1.0)
}

fn control(id: &str, x: f64, z: f64) -> PlaneControl {
    let at = PlanePoint::new(x, z);
    PlaneControl {
        id: id.to_owned(),
        at,
        at_cov: PlaneCov { xx: 1e-6, xz: 0.0, zz: 1e-6 },
        seen: image_of(&truth(), at).unwrap(),
        seen_cov: PixelCov { xx: 0.01, xy: 0.002, yy: 0.014 },
    }
}

fn eight() -> Vec<PlaneControl> {
    let places = [
        (-1.5, 0.0),
        (0.1, 0.05),
        (1.6, -0.1),
        (3.0, 0.1), //
        (-1.4, 1.4),
        (0.2, 1.5),
        (1.4, 1.3),
        (2.9, 1.6),
    ];
    places.iter().enumerate().map(|(i, &(x, z))| control(&format!("P{}", i + 1), x, z)).collect()
}

fn fit(controls: &[PlaneControl]) -> Result<Homography, HomographyFailure> {
    homography(controls, &HomographyOptions::default())
}

#[test]
fn exact_marks_give_the_exact_map_and_its_inverse() {
    let found = fit(&eight()).unwrap();
    assert!(found.rms_px < 1e-9 && found.n_spare == 8, "{}", found.rms_px);
    let four = fit(&[0, 3, 4, 7].map(|i| eight()[i].clone())).unwrap();
    for found in [found, four] {
        for at in [PlanePoint::new(0.7, 0.9), PlanePoint::new(-2.0, 2.0)] {
            let seen = image_of(&truth(), at).unwrap();
            assert!(found.image_of(at).unwrap().distance(seen) < 1e-7);
            let (back, _, _) = found.plane_of(seen, &PixelCov::round(0.1)).unwrap();
            assert!((back.x_m - at.x_m).hypot(back.z_m - at.z_m) < 1e-9);
        }
        assert!(
            found.plane_of(PixelPoint::new(1e6, 0.0), &PixelCov::round(0.1)).is_none(),
            "beyond the horizon"
        );
    }
}

#[test]
fn swapped_names_are_named() {
    let mut controls = eight();
    let (a, b) = (controls[2].seen, controls[6].seen);
    (controls[2].seen, controls[6].seen) = (b, a);
    let failure = fit(&controls).unwrap_err();
    let HomographyFailure::Suspect(found) = &failure else { panic!("{failure}") };
    assert!(
        matches!(&found[..], [Suspicion::Swapped { first, second, .. }] if first == "P3" && second == "P7")
    );
    assert!(
        failure.to_string().contains("P3 and P7 look swapped: exchanging them brings the residual"),
        "{failure}"
    );
}

#[test]
fn a_mistyped_coordinate_is_named_with_what_the_others_say() {
    let mut controls = eight();
    controls[4].at.z_m = 4.1;
    let failure = fit(&controls).unwrap_err().to_string();
    assert!(failure.contains("P5 does not fit the others"), "{failure}");
    assert!(failure.contains("by the others it lies at x -1.400, z 1.400 m"), "{failure}");
}

#[test]
fn points_that_fix_no_plane_are_refused_by_name() {
    let line: Vec<_> = (0..5).map(|i| control(&format!("L{i}"), f64::from(i), 0.5)).collect();
    assert!(matches!(fit(&line), Err(HomographyFailure::Collinear { .. })));
    let mut three = line[..3].to_vec();
    three.push(control("off", 1.0, 1.5));
    assert!(matches!(fit(&three), Err(HomographyFailure::AllButOne { id }) if id == "off"));
    assert!(matches!(fit(&eight()[..3]), Err(HomographyFailure::TooFew { n: 3 })));
    let same: Vec<_> = (0..4).map(|i| control(&format!("S{i}"), 1.0, 1.0)).collect();
    assert!(fit(&same).is_err());
    let mut crossed = [0, 3, 4, 7].map(|i| eight()[i].clone());
    let seen = crossed[0].seen;
    crossed[0].seen = crossed[1].seen;
    crossed[1].seen = seen;
    assert!(matches!(fit(&crossed), Err(HomographyFailure::NoView)));
}

#[test]
fn wrong_units_and_numbers_are_refused() {
    let mut one_in_mm = eight();
    one_in_mm[5].at.x_m = 200.0 * 1e3;
    assert!(matches!(
        fit(&one_in_mm),
        Err(HomographyFailure::Points(ControlFault::OtherUnit { id, axis: "x", .. })) if id == "P6"
    ));
    let mut all_in_mm = eight();
    for control in &mut all_in_mm {
        control.at = PlanePoint::new(control.at.x_m * 1e3, control.at.z_m * 1e3);
    }
    assert!(matches!(fit(&all_in_mm), Err(HomographyFailure::Points(ControlFault::Span { .. }))));
    let mut broken = eight();
    broken[1].seen.x = f64::NAN;
    assert!(matches!(fit(&broken), Err(HomographyFailure::Points(ControlFault::NotFinite { .. }))));
    broken[1] = control("P1", 0.0, 0.0);
    assert!(matches!(fit(&broken), Err(HomographyFailure::Points(ControlFault::SameName { .. }))));
    broken[1] = PlaneControl { seen_cov: PixelCov::default(), ..control("P2", 0.0, 0.0) };
    assert!(matches!(fit(&broken), Err(HomographyFailure::Points(ControlFault::NoDoubt { .. }))));
}

#[test]
fn moved_along_its_axes_the_map_spreads_as_its_covariance_says() {
    let found = fit(&eight()).unwrap();
    let seen = PixelPoint::new(700.0, 400.0);
    let (at, _, common) = found.plane_of(seen, &PixelCov::round(0.1)).unwrap();
    let mut sum = [0.0; 3];
    for axis in 0..8 {
        let moved = plane_of(&found.moved(axis), seen).unwrap() - at;
        sum[0] += moved.x_m * moved.x_m;
        sum[1] += moved.x_m * moved.z_m;
        sum[2] += moved.z_m * moved.z_m;
    }
    for (sum, stated) in sum.iter().zip([common.xx, common.xz, common.zz]) {
        assert!((sum - stated).abs() < 0.01 * common.xx, "{sum} {stated}");
    }
}
