//! A car that drifts towards the camera and yaws comes back as a rigid body at its true place.

use super::*;
use filmgauge_geometry::{Board, Calibration, Reference};
use filmgauge_motion::{BodyTracks, PlaneMark, Pose, PoseOptions, TargetTrack};
use filmgauge_quantities::{Length, PixelCov, PixelPoint, TargetId, Uncertain};

const DISTANCE_M: f64 = 12.0;
const OFFSET_M: f64 = 0.8;
/// The targets stand so far to the left of the car's middle line.
const LEFT_M: f64 = -0.7;
const N: usize = 30;

/// x runs to the right in the picture: the camera stands on the right of the path, so that the left is away from it.
fn calibration() -> Calibration {
    let board = Board {
        from: PixelPoint::new(300.0, 600.0),
        to: PixelPoint::new(1100.0, 600.0),
        length: Uncertain::new(Length::from_m(2.0), Length::from_mm(1.0)),
        reading_u_px: 0.1,
        distance: Some(Uncertain::new(Length::from_m(DISTANCE_M), Length::from_m(0.02))),
    };
    Calibration {
        view: ViewPlane::Side,
        reference: Reference::Board(board),
        lengths: Vec::new(),
        lens: None,
        image_centre: PixelPoint::new(640.0, 360.0),
        offsets: Vec::new(),
        inclinations: Vec::new(),
    }
}

fn map() -> PlaneMap {
    calibration().plane_map().unwrap()
}

/// The body's point along the path, to the left, and the yaw to the left, at a frame; contact is frame 0.
fn truth(frame: usize) -> [f64; 3] {
    let s = frame as f64 / N as f64;
    [0.4 + 2.0 * s, -0.3 * s * s, 0.12 + 0.18 * s]
}

/// Along the path and to the left, at a frame, of a point `arm_m` ahead on the car's right side.
fn point(arm_m: f64, frame: usize) -> [f64; 2] {
    let [x_m, left_m, yaw] = truth(frame);
    let (sin, cos) = yaw.sin_cos();
    [x_m + arm_m * cos - LEFT_M * sin, left_m + arm_m * sin + LEFT_M * cos]
}

/// What the other camera tells of the car, for a target that stands so far to the left of its point at contact.
fn told(frame: usize, left_m: f64) -> InDepth {
    let ([x_m, now_m, yaw], [_, _, at_contact]) = (truth(frame), truth(0));
    let angles_rad = [yaw, at_contact];
    InDepth { x_m, nearer_m: -now_m, towards: -1.0, angles_rad, beside: Beside::Path(left_m) }
}

/// Tracks of four targets on the car's right side, which yaws and drifts; depth known, or taken to be that at contact.
fn tracks(knows_depth: bool) -> BodyTracks {
    let map = map();
    let cov = PixelCov::round(0.05);
    let mark = |[arm_m, z_m]: [f64; 2], frame: usize| {
        let ([along, left], [_, left_at_contact]) = (point(arm_m, frame), point(arm_m, 0));
        let place = PlanePoint::new(along, z_m);
        let plane = PlaneOf::from(Length::from_m(OFFSET_M - left_at_contact));
        let seen = map.image_from_plane(place, PlaneOf::from(Length::from_m(OFFSET_M - left))).unwrap();
        if knows_depth {
            return told(frame, left_at_contact).unfolded(&map, (seen, cov), plane).ok();
        }
        let (point, cov) = map.plane_from_image(seen, &cov, plane).unwrap();
        Some(PlaneMark { point, cov })
    };
    let places = [[-1.1, 0.4], [1.2, 0.45], [-0.8, 0.9], [0.7, 1.0]];
    let target = |(index, place): (usize, &[f64; 2])| TargetTrack {
        id: TargetId::new(&format!("C{index}")).unwrap(),
        marks: (0..N).map(|frame| mark(*place, frame)).collect(),
    };
    BodyTracks {
        body: BodyId::new("car").unwrap(),
        times_s: (0..N).map(|frame| frame as f64 * 1e-3).collect(),
        targets: places.iter().enumerate().map(target).collect(),
    }
}

fn poses(tracks: &BodyTracks) -> Vec<Option<Pose>> {
    let layout = filmgauge_motion::layout(tracks, 0..1).unwrap();
    filmgauge_motion::poses(tracks, &layout, &PoseOptions::default()).unwrap()
}

#[test]
fn a_body_that_yaws_and_drifts_comes_back_rigid_at_its_true_place() {
    let tracks = tracks(true);
    let poses = poses(&tracks);
    for (frame, pose) in poses.iter().enumerate() {
        let middle = InDepth { beside: Beside::Body(0.0), ..told(frame, 0.0) };
        let pose = middle.folded_pose(pose.as_ref().unwrap());
        let [x_m, _, yaw] = truth(frame);
        // The mean of the four targets stands at (0, 0.6875) of the car.
        assert!((pose.x_m - x_m).abs() < 1e-6, "{frame}: {} {x_m} {yaw}", pose.x_m);
        assert!(
            (pose.z_m - 0.6875).abs() < 1e-6 && pose.angle_rad.unwrap().abs() < 1e-6,
            "{frame}: {pose:?}"
        );
    }
}

#[test]
fn without_depth_the_same_car_seems_elsewhere_and_out_of_shape() {
    let poses = poses(&tracks(false));
    let last = poses.last().unwrap().as_ref().unwrap();
    let away_m = (last.x_m - truth(N - 1)[0]).abs();
    assert!(away_m > 0.01, "{away_m}");
}

#[test]
fn the_left_is_away_from_a_camera_on_the_right_and_up_is_towards_one_above() {
    let turned = {
        let mut calibration = calibration();
        if let Reference::Board(board) = &mut calibration.reference {
            std::mem::swap(&mut board.from, &mut board.to);
        }
        calibration.plane_map().unwrap()
    };
    assert_eq!(towards(ViewPlane::Side, &map()), Some(-1.0));
    assert_eq!(towards(ViewPlane::Side, &turned), Some(1.0));
    assert_eq!(towards(ViewPlane::Overhead, &map()), Some(1.0));
}

#[test]
fn folding_undoes_unfolding() {
    let map = map();
    let (plane, cov) = (PlaneOf::from(Length::from_m(OFFSET_M)), PixelCov::round(0.05));
    let seen = PixelPoint::new(900.0, 420.0);
    let mark = told(N - 1, LEFT_M).unfolded(&map, (seen, cov), plane).unwrap();
    let (point, there) = told(N - 1, LEFT_M).folded(mark.point, plane);
    let again = map.image_from_plane(point, there).unwrap();
    assert!(again.distance(seen) < 1e-6, "{again:?}");
}

#[test]
fn a_target_that_slides_back_along_a_turning_car_is_found_where_it_is() {
    let (map, cov) = (map(), PixelCov::round(0.05));
    let (ahead_m, slid_m) = (1.6, 0.4);
    let left_at_contact = point(ahead_m, 0)[1];
    let plane = PlaneOf::from(Length::from_m(OFFSET_M - left_at_contact));
    let seen = |arm_m: f64, frame: usize| {
        let [along, left] = point(arm_m, frame);
        map.image_from_plane(PlanePoint::new(along, 0.5), PlaneOf::from(Length::from_m(OFFSET_M - left)))
            .unwrap()
    };
    let first = told(0, left_at_contact).unfolded(&map, (seen(ahead_m, 0), cov), plane).unwrap();
    let beside = told(0, left_at_contact).settled(first.point.x_m);
    let last = told(N - 1, 0.0).with(beside);
    let found = last.unfolded(&map, (seen(ahead_m - slid_m, N - 1), cov), plane).unwrap();
    let step_m = (found.point.x_m - truth(N - 1)[0]) - (first.point.x_m - truth(0)[0]);
    assert!((step_m + slid_m).abs() < 1e-6, "{step_m}");
    // By the depth of the place where it stood at contact it would be millimetres off.
    let unsettled = InDepth { beside: Beside::Body(LEFT_M), ..last };
    let off = unsettled.unfolded(&map, (seen(ahead_m - slid_m, N - 1), cov), plane).unwrap();
    assert!((off.point.x_m - found.point.x_m).abs() > 1e-3);
}
