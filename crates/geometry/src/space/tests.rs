//! Tests of points, tracks and bodies in space: exact recovery, refusals, and time offsets.

use super::*;
use crate::{CameraPose, Lens, PosedCamera};
use filmgauge_quantities::{
    Length, PixelCov, PixelPoint, PlaneCov, PlanePoint, SpaceCov, SpacePoint, Uncertain,
};

fn camera(centre: [f64; 3], at: [f64; 3]) -> PosedCamera {
    let lens = Lens {
        k1: -0.12,
        k2: 0.03,
        p1: 1e-3,
        p2: -5e-4,
        fy_px: 1996.0,
        ..Lens::pinhole(2000.0, 960.0, 540.0)
    };
    let place = |at: [f64; 3]| SpacePoint::new(at[0], at[1], at[2]);
    PosedCamera::exact(lens, CameraPose::looking_at(place(centre), place(at)).unwrap())
}

/// One beside the path, one on a mast behind it: lines of sight that cross in height.
fn pair() -> [PosedCamera; 2] {
    [camera([1.0, 9.0, 1.2], [1.0, 0.0, 0.8]), camera([2.0, 6.5, 6.0], [1.0, 0.0, 0.8])]
}

fn sightings<'a>(cameras: &'a [PosedCamera], at: SpacePoint) -> Vec<Sighting<'a>> {
    let cov = PixelCov::round(0.1);
    cameras.iter().map(|camera| Sighting { camera, seen: camera.image_of(at).unwrap(), cov }).collect()
}

#[test]
fn exact_marks_give_the_exact_point() {
    let cameras = pair();
    let at = SpacePoint::new(1.4, 0.3, 0.7);
    let seen = sightings(&cameras, at);
    let fix = triangulate(&seen, &TriangulateOptions::default()).unwrap();
    assert!(fix.at.distance(at) < 1e-8 && fix.is_consistent && fix.n_spare == 1);
    assert!(epipolar_px(&seen[0], &seen[1]).unwrap().abs() < 1e-7);
    let mut off = seen.clone();
    off[1].seen.x += 20.0;
    off[1].seen.y += 20.0;
    let fix = triangulate(&off, &TriangulateOptions::default()).unwrap();
    assert!(!fix.is_consistent);
    assert!(epipolar_px(&off[0], &off[1]).unwrap().abs() > 5.0);
}

#[test]
fn what_fixes_no_point_is_refused() {
    let cameras = [camera([1.0, 9.0, 1.2], [1.0, 0.0, 0.8]), camera([1.05, 9.0, 1.2], [1.05, 0.0, 0.8])];
    let at = SpacePoint::new(1.4, 0.3, 0.7);
    let near = triangulate(&sightings(&cameras, at), &TriangulateOptions::default());
    assert!(matches!(near, Err(SpaceFailure::Parallel { .. })));
    let one = triangulate(&sightings(&pair()[..1], at), &TriangulateOptions::default());
    assert!(matches!(one, Err(SpaceFailure::TooFewCameras { n: 1 })));
    let cameras = pair();
    let mut crossed = sightings(&cameras, at);
    crossed[0].seen.y = -4000.0;
    crossed[1].seen.y = 6000.0;
    assert!(triangulate(&crossed, &TriangulateOptions::default()).is_err());
}

/// Braking from 15 m/s within 60 ms, with some lift.
fn path(id: usize, time_s: f64) -> SpacePoint {
    let brake = (time_s - 0.03).clamp(0.0, 0.06);
    let x = 15.0 * time_s.min(0.03) + 15.0 * brake - 125.0 * brake * brake;
    let i = id as f64;
    SpacePoint::new(x + 0.3 * i, 0.2 - 0.1 * i, 0.5 + 0.2 * i + 2.0 * brake * brake)
}

fn tracks(cameras: &[PosedCamera], offset_s: f64) -> Vec<SpaceTrack> {
    let cov = PixelCov::round(0.05);
    let marks = |id: usize| {
        let of = |camera: usize| {
            (0..120).map(move |frame| {
                let time_s = frame as f64 * 1e-3;
                let shown_s = time_s - if camera == 1 { offset_s } else { 0.0 };
                (camera, time_s, path(id, shown_s))
            })
        };
        let seen = of(0).chain(of(1));
        seen.map(|(camera, time_s, at)| {
            let seen = cameras[camera].image_of(at).unwrap();
            CameraMark { camera, time_s, seen, cov }
        })
        .collect()
    };
    (0..3).map(|id| SpaceTrack { id: format!("T{id}"), marks: marks(id) }).collect()
}

#[test]
fn a_time_offset_is_found_with_the_paths() {
    let cameras = pair();
    let found = bundle(&cameras, &tracks(&cameras, 0.0008), &BundleOptions::default()).unwrap();
    let offset_s = found.offsets[1].value.as_s();
    assert!((offset_s - 0.0008).abs() < 2e-6, "{offset_s}");
    assert!(found.offsets[1].u.as_s() > 0.0 && found.offsets[1].u.as_s() < 2e-5);
    assert_eq!(found.offsets[0].u.as_s(), 0.0);
    for (track, time_s) in [(0, 0.02), (1, 0.061), (2, 0.1)] {
        let at = found.at(track, time_s).unwrap();
        assert!(at.at.distance(path(track, time_s)) < 3e-4, "{time_s}: {at:?}");
        let speed = 15.0 - 250.0 * (time_s - 0.03_f64).clamp(0.0, 0.06);
        assert!((at.velocity_m_s[0] - speed).abs() < 0.1, "{at:?}");
    }
    assert!(found.at(0, 5.0).is_none() && found.at(9, 0.02).is_none());
    assert_eq!(found.ids().collect::<Vec<_>>(), ["T0", "T1", "T2"]);
}

#[test]
fn an_offset_that_nothing_tells_is_refused() {
    // Side by side along the path: an offset of a motion along it looks like depth.
    let beside = [camera([-1.0, 9.0, 1.2], [1.0, 0.0, 1.2]), camera([3.0, 9.0, 1.2], [1.0, 0.0, 1.2])];
    let still = |time_s: f64| SpacePoint::new(15.0 * time_s, 0.0, 1.2);
    let marks = (0..2)
        .flat_map(|camera| (0..60).map(move |frame| (camera, f64::from(frame) * 1e-3)))
        .map(|(camera, time_s)| {
            let seen = beside[camera].image_of(still(time_s)).unwrap();
            CameraMark { camera, time_s, seen, cov: PixelCov::round(0.05) }
        })
        .collect();
    let tracks = [SpaceTrack { id: "T".into(), marks }];
    let refused = bundle(&beside, &tracks, &BundleOptions::default());
    assert!(matches!(refused, Err(SpaceFailure::Offset { camera: 2 })), "{refused:?}");
    assert!(matches!(
        bundle(&beside[..1], &tracks, &BundleOptions::default()),
        Err(SpaceFailure::TooFewCameras { .. })
    ));
    assert!(matches!(bundle(&beside, &[], &BundleOptions::default()), Err(SpaceFailure::Input { .. })));
}

const PLACES: [[f64; 3]; 5] =
    [[0.6, 0.4, 0.2], [-0.7, 0.5, 0.1], [-0.5, -0.4, 0.3], [0.8, -0.5, 0.0], [0.0, 0.1, 0.7]];

#[test]
fn a_body_is_found_by_points_and_by_marks_with_the_signs_of_its_angles() {
    let turn = nalgebra::Rotation3::from_euler_angles(0.05, -0.10, 0.20);
    let origin = nalgebra::Vector3::new(1.1, 0.2, 0.8);
    let places = PLACES.map(|at| SpacePoint::new(at[0], at[1], at[2]));
    let at = places.map(|place| crate::rigid::point(turn * crate::rigid::vector(place) + origin));
    let pairs: Vec<_> = (0..5).map(|i| (places[i], at[i], SpaceCov::round(0.002))).collect();
    let cameras = pair();
    let marks = |n_cameras: usize| -> Vec<BodyMark<'_>> {
        let seen = |(target, at): (usize, &SpacePoint)| -> Vec<BodyMark<'_>> {
            let of = |camera| sightings(std::slice::from_ref(camera), *at)[0];
            let of = |camera| (of(camera), camera);
            let all = cameras[..n_cameras].iter().map(of);
            all.map(|(seen, camera)| BodyMark { target, camera, seen: seen.seen, cov: seen.cov }).collect()
        };
        at.iter().enumerate().flat_map(seen).collect()
    };
    for found in [
        space_pose(&pairs).unwrap(),
        space_pose_from_marks(&places, &marks(2)).unwrap(),
        space_pose_from_marks(&places, &marks(1)).unwrap(),
    ] {
        let angles = found.angles().unwrap();
        for (angle, truth) in [(angles.roll, 0.05), (angles.pitch, -0.10), (angles.yaw, 0.20)] {
            assert!((angle.as_rad() - truth).abs() < 1e-6, "{angles:?}");
        }
        assert!(found.space_from_body(places[4]).distance(at[4]) < 1e-6);
        assert!(angles.cov[0][0] > 0.0 && found.n_spare >= 4);
        // Nose up is a negative pitch, nose left a positive yaw.
        let nose = found.space_from_body(SpacePoint::new(1.0, 0.0, 0.0));
        assert!(nose.z_m > found.origin.z_m && nose.y_m > found.origin.y_m);
    }
    assert!(matches!(space_pose(&pairs[..2]), Err(SpaceFailure::TooFewTargets { n: 2 })));
}

#[test]
fn turns_spread_as_the_closed_form_says() {
    // Computed from cov(turn) = s² (Σ |r|² I - r rᵀ)⁻¹ about the middle of the points.
    let s = 0.002;
    let middle = PLACES.iter().fold([0.0; 3], |sum, at| [0, 1, 2].map(|k| sum[k] + at[k] / 5.0));
    let arms =
        PLACES.map(|at| nalgebra::Vector3::new(at[0] - middle[0], at[1] - middle[1], at[2] - middle[2]));
    let inertia = arms.iter().fold(nalgebra::Matrix3::zeros(), |sum, arm| {
        sum + nalgebra::Matrix3::identity() * arm.norm_squared() - arm * arm.transpose()
    });
    let expected = inertia.try_inverse().unwrap() * s * s;
    let pairs: Vec<_> = PLACES
        .iter()
        .map(|at| SpacePoint::new(at[0], at[1], at[2]))
        .map(|at| (at, at, SpaceCov::round(s)))
        .collect();
    let found = space_pose(&pairs).unwrap();
    for row in 0..3 {
        for column in 0..3 {
            assert!((found.cov[row][column] - expected[(row, column)]).abs() < 1e-12);
        }
    }
}

#[test]
fn both_sides_give_the_centre_plane() {
    let cov = PlaneCov { xx: 4e-6, xz: 0.0, zz: 1e-6 };
    let y = |m: f64| Uncertain::new(Length::from_m(m), Length::from_m(0.0));
    // Nose 2° to the left, left side 1° up, targets 0.9 and 0.6 m from the centre plane.
    let (yaw, roll) = (2.0_f64.to_radians(), 1.0_f64.to_radians());
    let side = |y_m: f64| SideMark {
        at: PlanePoint::new(3.0 - y_m * yaw.sin(), 0.7 + y_m * roll.sin()),
        cov,
        y: y(y_m),
    };
    let found = centre_plane(&side(0.9), &side(-0.6)).unwrap();
    assert!((found.at.x_m - 3.0).abs() < 1e-12 && (found.at.z_m - 0.7).abs() < 1e-12);
    assert!((found.x_slope + yaw.sin()).abs() < 1e-12 && (found.z_slope - roll.sin()).abs() < 1e-12);
    let equal = centre_plane(&side(0.9), &side(-0.9)).unwrap();
    assert!((equal.cov.xx - 2e-6).abs() < 1e-18);
    assert!((equal.slope_u[0] - (8e-6_f64).sqrt() / 1.8).abs() < 1e-12);
    assert!(centre_plane(&side(0.9), &side(0.3)).is_err());
}

#[test]
fn gaps_and_single_marks_are_no_obstacle() {
    let cameras = pair();
    let mut all = tracks(&cameras, 0.0);
    all[0].marks.retain(|mark| mark.camera == 0 || mark.time_s < 0.03 || mark.time_s > 0.05);
    let found = bundle(&cameras, &all, &BundleOptions::default()).unwrap();
    let (open, gap) = (found.at(0, 0.02).unwrap(), found.at(0, 0.04).unwrap());
    assert!(gap.cov.u_m()[1] > open.cov.u_m()[1], "{gap:?} {open:?}");
    let lone = PixelPoint::new(900.0, 500.0);
    let lone = CameraMark { camera: 0, time_s: 0.01, seen: lone, cov: PixelCov::round(0.1) };
    let single = [SpaceTrack { id: "L".into(), marks: vec![lone] }];
    assert!(bundle(&cameras, &single, &BundleOptions::default()).is_err());
}
