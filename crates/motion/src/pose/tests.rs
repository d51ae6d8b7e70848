//! Tests of layout, pose and rigidity on made-up bodies with known motion.

use super::*;
use crate::{TargetTrack, layout, rigidity};
use filmgauge_quantities::{BodyId, PlaneCov, TargetId};
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

const SIGMA_M: f64 = 4e-5;

/// Six targets on a rectangle, moving and turning; noise by seed.
fn body(n_frames: usize, seed: u64, sigma_m: f64) -> BodyTracks {
    let places = [(-1.0, 0.3), (0.0, 0.35), (1.0, 0.3), (-1.0, -0.3), (0.0, -0.35), (1.0, -0.3)];
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let noise = Normal::new(0.0, sigma_m).unwrap();
    let mut targets: Vec<TargetTrack> = (0..places.len())
        .map(|i| TargetTrack { id: TargetId::new(&format!("C{i}")).unwrap(), marks: Vec::new() })
        .collect();
    for frame in 0..n_frames {
        let t = frame as f64 * 1e-3;
        for (target, (x, z)) in targets.iter_mut().zip(places) {
            let point = PlanePoint::new(x, z).turned(angle(t)) + PlanePoint::new(3.0 + 14.0 * t, 0.8);
            let read = PlanePoint::new(noise.sample(&mut random), noise.sample(&mut random));
            let cov = PlaneCov { xx: SIGMA_M * SIGMA_M, xz: 0.0, zz: SIGMA_M * SIGMA_M };
            target.marks.push(Some(PlaneMark { point: point + read, cov }));
        }
    }
    let times_s = (0..n_frames).map(|frame| frame as f64 * 1e-3).collect();
    BodyTracks { body: BodyId::new("car").unwrap(), times_s, targets }
}

fn angle(t: f64) -> f64 {
    if t < 0.05 { 0.02 } else { 0.02 + 0.5 * (t - 0.05) }
}

#[test]
fn exact_marks_give_the_motion_back() {
    let mut tracks = body(200, 1, 1e-12);
    tracks.targets[2].marks[10] = None;
    tracks.targets[4].marks[120] = None;
    let layout = layout(&tracks, 0..50).unwrap();
    let poses = poses(&tracks, &layout, &PoseOptions::default()).unwrap();
    for (pose, &t) in poses.iter().zip(&tracks.times_s) {
        let pose = pose.unwrap();
        assert!((pose.angle_rad.unwrap() - (angle(t) - 0.02)).abs() < 1e-9);
        assert!((pose.x_m - 3.0 - 14.0 * t).abs() < 1e-9 && (pose.z_m - 0.8).abs() < 1e-9);
    }
    assert_eq!((poses[120].unwrap().n_targets, poses[120].unwrap().dof), (5, 7));
}

#[test]
fn spread_of_the_pose_follows_the_closed_form() {
    // Computed from the stated formulas: sd(angle) = s / (rho √n), sd(origin) = s / √n.
    let mut tracks = body(4000, 7, SIGMA_M);
    tracks.times_s.iter_mut().for_each(|t| *t += 1.0);
    let layout = layout(&tracks, 0..50).unwrap();
    let poses = poses(&tracks, &layout, &PoseOptions::default()).unwrap();
    let rho = layout.spread_m();
    let errors: Vec<f64> = poses
        .iter()
        .enumerate()
        .map(|(i, pose)| pose.unwrap().angle_rad.unwrap() - (angle(i as f64 * 1e-3) - 0.02))
        .collect();
    let mean = errors.iter().sum::<f64>() / errors.len() as f64;
    let sd = (errors.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / errors.len() as f64).sqrt();
    let closed = SIGMA_M / (rho * 6.0_f64.sqrt());
    assert!((sd / closed - 1.0).abs() < 0.03, "{sd} against {closed}");
    assert!((poses[9].unwrap().cov[2][2].sqrt() / closed - 1.0).abs() < 1e-6);
    assert!((poses[9].unwrap().cov[0][0].sqrt() / (SIGMA_M / 6.0_f64.sqrt()) - 1.0).abs() < 1e-6);
    let report = rigidity(&tracks, &layout, &poses, 0..4000);
    assert!((report.noise_scale.unwrap() - 1.0).abs() < 0.03);
    assert!(report.share_over_99.unwrap() < 0.02);
}

#[test]
fn a_target_that_comes_loose_is_named() {
    let mut tracks = body(300, 3, SIGMA_M);
    for mark in tracks.targets[1].marks[100..].iter_mut().flatten() {
        mark.point.z_m += 0.002;
    }
    let layout = layout(&tracks, 0..50).unwrap();
    let poses = poses(&tracks, &layout, &PoseOptions::default()).unwrap();
    let report = rigidity(&tracks, &layout, &poses, 0..300);
    assert_eq!(report.worst, Some(TargetId::new("C1").unwrap()));
    assert!(report.share_over_99.unwrap() > 0.6);
}

#[test]
fn one_target_gives_place_without_angle() {
    let mut tracks = body(60, 3, SIGMA_M);
    tracks.targets.truncate(1);
    let alone = layout(&tracks, 0..50).unwrap();
    let pose = poses(&tracks, &alone, &PoseOptions::default()).unwrap()[30].unwrap();
    assert!(pose.angle_rad.is_none() && pose.dof == 0);
    let mut two = body(60, 3, SIGMA_M);
    two.targets.truncate(2);
    two.targets[1].marks[30] = None;
    let pair = layout(&two, 0..50).unwrap();
    assert!(poses(&two, &pair, &PoseOptions::default()).unwrap()[30].is_none());
}

#[test]
fn two_targets_give_the_textbook_angle() {
    // Computed from θ = atan2(-(vF - vR), uF - uR): R (300, 500), F (800, 500) to R (302, 520), F (800, 480).
    let up = |u: f64, v: f64| PlanePoint::new(u, -v);
    let pairs = [(up(300.0, 500.0), up(302.0, 520.0)), (up(800.0, 500.0), up(800.0, 480.0))];
    assert!((turn_and_shift(&pairs).0.to_degrees() - 4.592_212).abs() < 1e-6);
    // u(θ) = √2 u / L.
    for (spacing_m, u_m, deg) in [(2.0, 2e-3, 0.0810), (1.5, 3e-3, 0.1621)] {
        let cov = PlaneCov { xx: u_m * u_m, xz: 0.0, zz: u_m * u_m };
        let ends = [-0.5, 0.5].map(|share| {
            let point = PlanePoint::new(share * spacing_m, 0.0);
            (point, PlaneMark { point, cov })
        });
        assert!((pose(&ends).unwrap().cov[2][2].sqrt().to_degrees() - deg).abs() < 5e-5);
    }
}

#[test]
fn faults_are_values() {
    let mut tracks = body(60, 3, SIGMA_M);
    assert!(layout(&tracks, 70..80).is_err());
    tracks.times_s[5] = tracks.times_s[4];
    assert_eq!(layout(&tracks, 0..50).unwrap_err(), MotionFailure::TimesRunBackwards { index: 5 });
}

/// Computed: a step from a target to the c.g. turns with the body; at 5 degrees nose up (-1.2, 0.25) m lies at (-1.217223, 0.144462).
#[test]
fn the_step_to_the_cg_turns_with_the_body() {
    let (sin, cos) = 5.0_f64.to_radians().sin_cos();
    let cov = PlaneCov { xx: 1e-6, xz: 0.0, zz: 1e-6 };
    let mark = |x_m, z_m| Some(PlaneMark { point: PlanePoint::new(x_m, z_m), cov });
    let target = |id, marks| TargetTrack { id: TargetId::new(id).unwrap(), marks };
    let tracks = BodyTracks {
        body: BodyId::new("car").unwrap(),
        times_s: vec![0.0, 1e-3],
        targets: vec![
            target("C1", vec![mark(3.0, 0.8), mark(3.0, 0.8)]),
            target("C2", vec![mark(5.0, 0.8), mark(3.0 + 2.0 * cos, 0.8 + 2.0 * sin)]),
        ],
    };
    let layout = layout(&tracks, 0..1).unwrap();
    let pose = poses(&tracks, &layout, &PoseOptions::default()).unwrap()[1].unwrap();
    let cg = layout.from_target(0, PlanePoint::new(-1.2, 0.25)).unwrap();
    let offset = pose.plane_from_body(cg) - PlanePoint::new(3.0, 0.8);
    assert!((offset.x_m + 1.217_223).abs() < 5e-7 && (offset.z_m - 0.144_462).abs() < 6e-7, "{offset:?}");
}
