//! Tests of a camera's pose: exact recovery in space and in a plane, both planar solutions, refusals, names.

use super::*;
use filmgauge_quantities::{PixelCov, SpaceCov, SpacePoint};

pub(crate) fn lens() -> Lens {
    Lens { k1: -0.12, k2: 0.03, p1: 1e-3, p2: -5e-4, fy_px: 1996.0, ..Lens::pinhole(2000.0, 960.0, 540.0) }
}

fn truth() -> CameraPose {
    let pose =
        CameraPose::looking_at(SpacePoint::new(1.2, 9.0, 1.7), SpacePoint::new(1.0, 0.0, 0.9)).unwrap();
    pose.moved(&[0.0, 0.0, 0.02, 0.0, 0.0, 0.0])
}

fn controls(places: &[[f64; 3]], pose: &CameraPose) -> Vec<SpaceControl> {
    let camera = PosedCamera::exact(lens(), *pose);
    let of = |(i, at): (usize, &[f64; 3])| {
        let at = SpacePoint::new(at[0], at[1], at[2]);
        SpaceControl {
            id: format!("P{}", i + 1),
            at,
            at_cov: SpaceCov::round(0.001),
            seen: camera.image_of(at).unwrap(),
            seen_cov: PixelCov::round(0.05),
        }
    };
    places.iter().enumerate().map(of).collect()
}

const SPACE: [[f64; 3]; 8] = [
    [-1.5, 0.0, 0.1],
    [0.2, 0.4, 0.0],
    [1.4, -0.3, 0.2],
    [3.1, 0.2, 0.1], //
    [-1.3, -0.5, 1.5],
    [0.1, 0.6, 1.7],
    [1.7, -0.4, 1.4],
    [3.0, 0.5, 1.8],
];

fn flat() -> Vec<[f64; 3]> {
    SPACE.iter().map(|at| [at[0], 0.0, at[2]]).collect()
}

fn fit(controls: &[SpaceControl]) -> Result<PoseFit, PoseFailure> {
    camera_pose(controls, &lens(), &PoseOptions::default())
}

fn assert_is(found: &PoseFit, truth: &CameraPose) {
    let away_rad = crate::rigid::angle_between(&found.camera.pose.turn(), &truth.turn());
    let away_m = found.camera.pose.centre.distance(truth.centre);
    assert!(away_rad < 1e-7 && away_m < 1e-6, "{away_rad} rad, {away_m} m");
}

#[test]
fn exact_marks_give_the_exact_pose() {
    for n in 4..=8 {
        let found = fit(&controls(&SPACE[..n], &truth())).unwrap();
        assert_is(&found, &truth());
        assert!(!found.is_planar && found.n_spare == 2 * n - 6);
        let found = fit(&controls(&flat()[8 - n..], &truth())).unwrap();
        assert_is(&found, &truth());
        assert!(found.is_planar);
    }
}

#[test]
fn a_plane_square_on_from_afar_has_two_poses_and_says_so() {
    let far =
        CameraPose::looking_at(SpacePoint::new(6.0, 40.0, 2.0), SpacePoint::new(0.8, 0.0, 0.9)).unwrap();
    let small: Vec<[f64; 3]> = flat().iter().map(|at| [at[0] * 0.2, 0.0, at[2] * 0.2]).collect();
    let found = fit(&controls(&small, &far)).unwrap();
    let other = found.alternative.unwrap();
    assert!(other.fits_as_well, "{other:?}");
    let near =
        fit(&controls(&flat(), &truth().moved(&[0.0, 0.0, 0.0, 4.0, -5.0, 0.0]).looking_back())).unwrap();
    assert!(near.alternative.is_none_or(|other| !other.fits_as_well));
}

impl CameraPose {
    /// The same place, looking at the middle of the points.
    fn looking_back(&self) -> Self {
        Self::looking_at(self.centre, SpacePoint::new(0.8, 0.0, 0.9)).unwrap()
    }
}

#[test]
fn a_focal_length_is_found_from_points_with_depth_and_refused_from_a_plane() {
    let marks = controls(&SPACE, &truth());
    let options = PoseOptions { finds_focal: true, ..PoseOptions::default() };
    for guess in [0.5, 1.0, 2.0] {
        let guess = Lens { fx_px: 2000.0 * guess, fy_px: 1996.0 * guess, ..lens() };
        let found = camera_pose(&marks, &guess, &options).unwrap();
        assert!((found.camera.lens.fx_px - 2000.0).abs() < 1e-3, "{}", found.camera.lens.fx_px);
        assert!(found.focal_u_px.unwrap() > 0.1);
        assert_is(&found, &truth());
    }
    let refused = camera_pose(&controls(&flat(), &truth()), &lens(), &options);
    assert!(matches!(refused, Err(PoseFailure::FlatForFocal)));
}

#[test]
fn swapped_and_mistyped_points_are_named() {
    let mut marks = controls(&SPACE, &truth());
    let (a, b) = (marks[2].seen, marks[6].seen);
    (marks[2].seen, marks[6].seen) = (b, a);
    let words = fit(&marks).unwrap_err().to_string();
    assert!(words.contains("P3 and P7 look swapped"), "{words}");
    let mut marks = controls(&SPACE, &truth());
    marks[4].at.z_m = 1.05;
    let words = fit(&marks).unwrap_err().to_string();
    assert!(words.contains("P5 does not fit the others"), "{words}");
}

#[test]
fn what_fixes_no_pose_is_refused() {
    let marks = controls(&SPACE, &truth());
    assert!(matches!(fit(&marks[..3]), Err(PoseFailure::TooFew { n: 3, needed: 4 })));
    let line: Vec<[f64; 3]> = (0..5).map(|i| [f64::from(i), 0.0, 0.5]).collect();
    assert!(matches!(fit(&controls(&line, &truth())), Err(PoseFailure::Collinear)));
    let mut in_mm = marks.clone();
    for mark in &mut in_mm {
        mark.at = SpacePoint::new(mark.at.x_m * 1e3, mark.at.y_m * 1e3, mark.at.z_m * 1e3);
    }
    assert!(matches!(fit(&in_mm), Err(PoseFailure::Points(ControlFault::Span { .. }))));
    let short = PoseOptions { plausible_distance_m: [0.1, 5.0], ..PoseOptions::default() };
    assert!(matches!(camera_pose(&marks, &lens(), &short), Err(PoseFailure::Distance { .. })));
    let narrow = Lens { k1: -3.0, k2: 0.0, ..lens() };
    let outside = camera_pose(&marks, &narrow, &PoseOptions::default());
    assert!(matches!(outside, Err(PoseFailure::Lens { .. })));
}

#[test]
fn the_pose_follows_the_lens_as_its_slopes_say() {
    let marks = controls(&SPACE, &truth());
    let base = fit(&marks).unwrap();
    let wide = Lens { fx_px: 2001.0, ..lens() };
    let moved =
        camera_pose(&marks, &wide, &PoseOptions { greatest_ratio: 1e3, ..PoseOptions::default() }).unwrap();
    let gained = vector(moved.camera.pose.centre) - vector(base.camera.pose.centre);
    for axis in 0..3 {
        let slope = base.camera.by_lens[3 + axis][0];
        assert!((gained[axis] - slope).abs() < 0.02 * gained.norm(), "{gained} {slope}");
    }
}
