//! Tests of planes by board, by plane points and by pose: they agree where they should, and budgets follow their doubts.

use super::*;
use crate::{Calibration, KnownLength, LengthRole, LensFile, PlaneMap, PlaneOf, inclined_path_factor};
use filmgauge_quantities::{Angle, BodyId, PixelCov, PlaneCov, PlanePoint, ViewPlane};

fn lens() -> Lens {
    Lens { k1: -0.12, k2: 0.03, p1: 1e-3, p2: -5e-4, fy_px: 1996.0, ..Lens::pinhole(2000.0, 960.0, 540.0) }
}

/// A camera 9 m to the left of the path: square on, or looking along a slant.
fn camera(looks_at_x_m: f64) -> PosedCamera {
    let pose =
        CameraPose::looking_at(SpacePoint::new(1.0, 9.0, 1.1), SpacePoint::new(looks_at_x_m, 0.0, 1.1));
    PosedCamera::exact(lens(), pose.unwrap())
}

fn plane_points(camera: &PosedCamera, distance: Option<f64>) -> Reference {
    let places =
        [(-1.0, 0.0), (0.2, 0.1), (1.6, -0.1), (2.8, 0.1), (-0.9, 1.4), (0.4, 1.5), (1.5, 1.9), (2.9, 1.6)];
    let of = |(i, &(x, z)): (usize, &(f64, f64))| PlaneControl {
        id: format!("P{i}"),
        at: PlanePoint::new(x, z),
        at_cov: PlaneCov { xx: 1e-6, xz: 0.0, zz: 1e-6 },
        seen: camera.image_of(SpacePoint::new(x, 0.0, z)).unwrap(),
        seen_cov: PixelCov::round(0.05),
    };
    Reference::Points(PlanePoints {
        controls: places.iter().enumerate().map(of).collect(),
        distance: distance.map(|m| Uncertain::new(Length::from_m(m), Length::from_m(0.05))),
        options: HomographyOptions::default(),
    })
}

fn pose_points(camera: &PosedCamera) -> Reference {
    let places = [
        [-1.0, 0.5, 0.1],
        [0.2, -0.4, 0.0],
        [1.5, 0.6, 0.2],
        [2.8, -0.2, 0.1], //
        [-0.9, -0.6, 1.4],
        [0.4, 0.7, 1.6],
        [1.4, -0.5, 1.9],
        [2.9, 0.4, 1.5],
    ];
    let of = |(i, at): (usize, &[f64; 3])| {
        let at = SpacePoint::new(at[0], at[1], at[2]);
        let (seen, seen_cov) = (camera.image_of(at).unwrap(), PixelCov::round(0.05));
        SpaceControl { id: format!("P{i}"), at, at_cov: SpaceCov::round(0.001), seen, seen_cov }
    };
    Reference::Pose(PosePoints {
        controls: places.iter().enumerate().map(of).collect(),
        plane_at: Length::from_m(0.0),
        options: PoseOptions::default(),
    })
}

/// A side camera on the left sees x run to the left.
fn board(camera: &PosedCamera) -> Reference {
    let at = |x| camera.image_of(SpacePoint::new(x, 0.0, 0.0)).unwrap();
    Reference::Board(Board {
        from: at(0.0),
        to: at(2.0),
        length: Uncertain::new(Length::from_m(2.0), Length::from_mm(1.0)),
        reading_u_px: 0.05,
        distance: Some(Uncertain::new(Length::from_m(9.0), Length::from_m(0.02))),
    })
}

fn calibration(reference: Reference, has_lens: bool) -> Calibration {
    Calibration {
        view: ViewPlane::Side,
        reference,
        lengths: Vec::new(),
        lens: has_lens.then(|| LensFile::of(lens(), [0.0; 9], None)),
        image_centre: PixelPoint::new(960.0, 540.0),
        offsets: Vec::new(),
        inclinations: Vec::new(),
    }
}

fn plane(offset_m: f64, inclination_deg: f64) -> PlaneOf {
    PlaneOf { offset: Length::from_m(offset_m), inclination: Angle::from_deg(inclination_deg) }
}

/// A point of a body's plane, in space.
fn in_space(at: PlanePoint, plane: &PlaneOf) -> SpacePoint {
    let (sin, cos) = plane.inclination.as_rad().sin_cos();
    SpacePoint::new(at.x_m * cos, plane.offset.as_m() + at.x_m * sin, at.z_m)
}

#[test]
fn every_reference_finds_points_of_nearer_and_inclined_planes() {
    let square = camera(1.0);
    let slanted = camera(2.5);
    let states = [
        (square, board(&square), true),
        (square, pose_points(&square), true),
        (slanted, pose_points(&slanted), true),
        (slanted, plane_points(&slanted, None), true),
    ];
    for (camera, reference, has_lens) in states {
        let map = PlaneMap::new(&calibration(reference.clone(), has_lens)).unwrap();
        assert!((map.distance_m().unwrap() - 9.0).abs() < 1e-6, "{:?}", map.distance_m());
        for plane in [plane(0.0, 0.0), plane(0.8, 0.0), plane(-0.7, 0.0), plane(0.6, 5.0), plane(0.0, -10.0)]
        {
            let at = PlanePoint::new(1.9, 0.4);
            let seen = camera.image_of(in_space(at, &plane)).unwrap();
            let (found, _) = map.plane_from_image(seen, &PixelCov::round(0.1), plane).unwrap();
            assert!(
                (found.x_m - at.x_m).hypot(found.z_m - at.z_m) < 1e-6,
                "{reference:?} {plane:?}: {found:?}"
            );
            assert!(map.image_from_plane(at, plane).unwrap().distance(seen) < 1e-3);
        }
    }
}

#[test]
fn an_inclined_path_before_a_board_follows_the_closed_form() {
    // Computed from D x cos β / (D - x sin β), for an axis through the board's `from`.
    let axis = PixelPoint::new(640.0, 360.0);
    let board = Board {
        from: axis,
        to: PixelPoint::new(1040.0, 360.0),
        length: Uncertain::new(Length::from_m(1.0), Length::from_mm(0.0)),
        reading_u_px: 0.0,
        distance: Some(Uncertain::new(Length::from_m(15.0), Length::from_m(0.0))),
    };
    let map =
        PlaneMap::new(&Calibration { image_centre: axis, ..calibration(Reference::Board(board), false) })
            .unwrap();
    for (beta_deg, x_m, factor) in
        [(5.0, 2.0, 1.007_907), (5.0, -2.0, 0.984_751), (10.0, 2.0, 1.008_150), (10.0, -2.0, 0.962_522)]
    {
        let exact = inclined_path_factor(f64::to_radians(beta_deg), x_m, 15.0).unwrap();
        assert!((exact - factor).abs() < 5e-7);
        let seen = PixelPoint::new(640.0 + 400.0 * x_m * exact, 360.0);
        let found = map.plane_from_image(seen, &PixelCov::default(), plane(0.0, beta_deg)).unwrap().0;
        assert!((found.x_m - x_m).abs() < 1e-12, "{found:?}");
    }
    let reaching =
        map.plane_from_image(PixelPoint::new(640.0 - 2e4, 360.0), &PixelCov::default(), plane(0.0, 20.0));
    assert!(matches!(reaching, Err(GeometryError::View { .. })));
    let across = map.plane_from_image(axis, &PixelCov::default(), plane(0.0, 85.0));
    assert!(matches!(across, Err(GeometryError::Setting { .. })));
}

#[test]
fn covariances_agree_with_differences_in_every_plane() {
    let slanted = camera(2.5);
    for reference in [board(&slanted), pose_points(&slanted), plane_points(&slanted, None)] {
        let map = PlaneMap::new(&calibration(reference, true)).unwrap();
        for plane in [plane(0.0, 0.0), plane(0.8, 0.0), plane(0.6, 7.0)] {
            let cov = PixelCov { xx: 0.04, xy: 0.01, yy: 0.02 };
            let seen = PixelPoint::new(700.0, 300.0);
            let at = |dx: f64, dy: f64| map.plane_from_image(seen.moved(dx, dy), &cov, plane).unwrap();
            let slope =
                |a: PlanePoint, b: PlanePoint| PlanePoint::new((a - b).x_m / 2e-2, (a - b).z_m / 2e-2);
            let (by_x, by_y) =
                (slope(at(1e-2, 0.0).0, at(-1e-2, 0.0).0), slope(at(0.0, 1e-2).0, at(0.0, -1e-2).0));
            let xz = cov.xx * by_x.x_m * by_x.z_m
                + cov.xy * (by_x.x_m * by_y.z_m + by_y.x_m * by_x.z_m)
                + cov.yy * by_y.x_m * by_y.z_m;
            let found = at(0.0, 0.0).1;
            assert!((found.xz - xz).abs() < 1e-6 * found.xx, "{found:?} {xz}");
        }
    }
}

#[test]
fn without_a_lens_plane_points_need_a_distance_for_other_planes() {
    let pinhole = PosedCamera { lens: Lens::pinhole(2000.0, 960.0, 540.0), ..camera(1.0) };
    let seen = PixelPoint::new(700.0, 300.0);
    let blind = PlaneMap::new(&calibration(plane_points(&pinhole, None), false)).unwrap();
    assert!(blind.plane_from_image(seen, &PixelCov::default(), plane(0.0, 0.0)).is_ok());
    let refused = blind.plane_from_image(seen, &PixelCov::default(), plane(0.8, 0.0));
    assert!(matches!(refused, Err(GeometryError::DistanceUnknown { .. })));
    let told = PlaneMap::new(&calibration(plane_points(&pinhole, Some(9.0)), false)).unwrap();
    let (at, plane) = (PlanePoint::new(1.9, 0.4), plane(0.8, 0.0));
    let seen = pinhole.image_of(in_space(at, &plane)).unwrap();
    let found = told.plane_from_image(seen, &PixelCov::default(), plane).unwrap().0;
    assert!((found.x_m - at.x_m).hypot(found.z_m - at.z_m) < 1e-6);
    assert!(matches!(
        PlaneMap::new(&calibration(pose_points(&pinhole), false)),
        Err(GeometryError::Reference { .. })
    ));
}

#[test]
fn moving_along_principal_axes_adds_up_to_the_covariance() {
    let slanted = camera(2.5);
    let seen = PixelPoint::new(700.0, 300.0);
    let base = calibration(pose_points(&slanted), true);
    let at = |state: &Calibration| {
        PlaneMap::new(state).unwrap().plane_from_image(seen, &PixelCov::default(), plane(0.5, 0.0)).unwrap().0
    };
    let sum: f64 =
        base.doubts().iter().map(|source| (at(&base.perturbed(source)) - at(&base)).x_m.powi(2)).sum();
    let Reference::Pose(points) = &base.reference else { panic!("a pose") };
    let camera = points.fit(&lens()).unwrap().camera;
    let plane_in_space =
        crate::SpacePlane { through: SpacePoint::new(0.0, 0.5, 0.0), normal: [0.0, 1.0, 0.0] };
    let crossing = camera.ray(seen).unwrap().meets(&plane_in_space).unwrap();
    let stated = crossing.pose_cov(&camera).0[0][0];
    assert!((sum / stated - 1.0).abs() < 0.02, "{sum} {stated}");
    let points = calibration(plane_points(&slanted, None), true);
    let named: Vec<String> = points.doubts().iter().map(ToString::to_string).collect();
    assert_eq!(named, vec!["plane points"; 8]);
}

#[test]
fn known_lengths_share_in_the_scale_or_check_it() {
    let square = camera(1.0);
    let known = |name: &str, ends: [f64; 2], y_m: f64, length_m: f64, role| KnownLength {
        name: name.into(),
        from: square.image_of(SpacePoint::new(ends[0], y_m, 0.6)).unwrap(),
        to: square.image_of(SpacePoint::new(ends[1], y_m, 0.6)).unwrap(),
        length: Uncertain::new(Length::from_m(length_m), Length::from_mm(1.0)),
        reading_u_px: 0.05,
        role,
    };
    let mut state = calibration(board(&square), true);
    let alone = state.plane_map().unwrap();
    state.lengths = vec![
        known("rail", [-0.5, 2.5], 0.0, 3.003, LengthRole::Fit),
        known("wheelbase", [0.0, 2.5], 0.8, 2.5, LengthRole::Check(plane(0.8, 0.0))),
    ];
    let both = state.plane_map().unwrap();
    assert!(both.scale_relative_u() < alone.scale_relative_u());
    assert!(both.metres_per_px() > alone.metres_per_px());
    assert!(state.doubts().iter().any(|source| source.to_string() == "known lengths"));
    let checks = state.length_checks().unwrap();
    // The rail is 3 mm too long as stated: the scale gives way by its share.
    assert!(checks[0].is_in_fit && checks[0].residual_m < -0.0005 && checks[0].residual_m > -0.003);
    let scale = both.metres_per_px() / alone.metres_per_px() - 1.0;
    assert!(!checks[1].is_in_fit && (checks[1].residual_m - 2.5 * scale).abs() < 1e-4, "{checks:?}");
    // Length, two readings, distance and scale together.
    assert!(checks[1].u_m > 0.001 && checks[1].u_m < 0.004, "{checks:?}");
    state.reference = pose_points(&square);
    assert!(matches!(state.plane_map(), Err(GeometryError::Reference { .. })));
    state.lengths.remove(0);
    assert!(state.length_checks().unwrap()[0].residual_m.abs() < 1e-6);
}

#[test]
fn inclinations_are_doubted_and_named() {
    let body = BodyId::new("truck").unwrap();
    let mut state = calibration(board(&camera(1.0)), true);
    state.inclinations = vec![(body.clone(), Uncertain::new(Angle::from_deg(2.0), Angle::from_deg(0.3)))];
    assert!((state.plane_of(&body).inclination.as_deg() - 2.0).abs() < 1e-12);
    let named: Vec<String> = state.doubts().iter().map(ToString::to_string).collect();
    assert!(named.contains(&"inclination of truck".to_owned()), "{named:?}");
}
