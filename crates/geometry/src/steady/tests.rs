//! Checks of steadying: shift, turn, doubt, one bad mark, and what is refused.

use super::*;
use proptest::prelude::*;

fn mark(x: f64, y: f64) -> Option<FixedMark> {
    Some(FixedMark { point: PixelPoint::new(x, y), cov: PixelCov::round(0.02) })
}

fn exact() -> SteadyOptions {
    SteadyOptions { mark_floor_px: 0.0, ..SteadyOptions::default() }
}

/// A mark of the reference frame as it is read after a turn about the origin and a shift.
fn moved(mark: Option<FixedMark>, dx: f64, dy: f64, turn: f64) -> Option<FixedMark> {
    let (sin, cos) = f64::sin_cos(turn);
    mark.map(|mark| FixedMark {
        point: PixelPoint::new(
            mark.point.x * cos - mark.point.y * sin + dx,
            mark.point.x * sin + mark.point.y * cos + dy,
        ),
        ..mark
    })
}

#[test]
fn one_mark_tells_the_shift_and_leaves_the_turn_in_doubt() {
    let step = steady_step(&[mark(100.0, 50.0)], &[mark(101.5, 49.0)], &exact()).unwrap();
    assert!((step.dx_px - 1.5).abs() < 1e-12 && (step.dy_px + 1.0).abs() < 1e-12);
    assert!(!step.turn_told && step.misfit_px.is_none());
    // Variance of the shift: two readings of 0.02 px; 1000 px away the assumed turn of 3e-4 rad adds 0.3 px.
    assert!((step.cov[0][0] - 2.0 * 0.02 * 0.02).abs() < 1e-12);
    let (at, cov) = steady_from_image(PixelPoint::new(1101.5, 49.0), &PixelCov::default(), &step);
    assert!(at.distance(PixelPoint::new(1100.0, 50.0)) < 1e-9);
    assert!((cov.yy.sqrt() - (0.09 + 0.0008_f64).sqrt()).abs() < 1e-9);
}

#[test]
fn variances_are_those_of_the_stated_formula() {
    // u²/n of a shift and u²/Σr² of a turn, with u² = 2 · 0.02² for two readings (computed from the stated formula).
    let reference = [mark(0.0, 0.0), mark(1000.0, 0.0)];
    let step = steady_step(&reference, &reference, &exact()).unwrap();
    assert!(step.turn_told);
    assert!((step.cov[0][0] - 0.0008 / 2.0).abs() < 1e-12);
    assert!((step.cov[2][2] - 0.0008 / 500_000.0).abs() < 1e-15);
}

#[test]
fn a_single_bad_mark_is_left_out_and_named() {
    let reference = [mark(0.0, 0.0), mark(900.0, 10.0), mark(20.0, 400.0), mark(880.0, 390.0)];
    let mut now = reference.map(|mark| moved(mark, 0.8, -0.4, 2e-4));
    now[2] = now[2].map(|mark| FixedMark { point: mark.point.moved(3.0, 0.0), ..mark });
    let step = steady_step(&reference, &now, &exact()).unwrap();
    assert_eq!(step.left_out, Some(2));
    assert!((step.turn_rad - 2e-4).abs() < 1e-9);
    assert_eq!(step.n_marks, 3);
}

#[test]
fn of_three_marks_one_is_to_blame_whichever_way_it_moved() {
    let reference = [mark(0.0, 0.0), mark(900.0, 10.0), mark(20.0, 400.0)];
    for (blamed, dx, dy) in [(0, 2.0, 0.0), (0, 0.0, 2.0), (1, 0.0, -2.0), (2, 1.5, 1.5)] {
        let mut now = reference.map(|mark| moved(mark, 0.8, -0.4, 1e-4));
        now[blamed] = now[blamed].map(|mark| FixedMark { point: mark.point.moved(dx, dy), ..mark });
        let step = steady_step(&reference, &now, &exact()).unwrap();
        assert_eq!(step.left_out, Some(blamed), "{dx} {dy}");
    }
}

#[test]
fn marks_that_cannot_be_told_apart_are_refused_with_a_reason() {
    let reference = [mark(0.0, 0.0), mark(900.0, 0.0)];
    let now = [mark(0.0, 0.0), mark(902.0, 0.0)];
    let failure = steady_step(&reference, &now, &exact()).unwrap_err();
    assert!(matches!(failure, SteadyFailure::Disagree { n_marks: 2, .. }), "{failure}");
    assert_eq!(
        steady_step(&[None, mark(1.0, 1.0)], &[mark(0.0, 0.0), None], &exact()),
        Err(SteadyFailure::NoMark)
    );
    let broken = [mark(f64::NAN, 0.0)];
    assert_eq!(steady_step(&broken, &broken, &exact()), Err(SteadyFailure::BadMark { number: 0 }));
    let certain = [Some(FixedMark { point: PixelPoint::default(), cov: PixelCov::default() })];
    assert_eq!(steady_step(&certain, &certain, &exact()), Err(SteadyFailure::BadMark { number: 0 }));
    assert!(SteadyOptions { significance: 0.0, ..exact() }.check().is_err());
}

#[test]
fn the_table_says_what_is_there_and_why_not() {
    let reference = [mark(0.0, 0.0), mark(900.0, 0.0)];
    let frames = [reference.to_vec(), vec![mark(1.0, 2.0), None], vec![None, None]];
    let (steps, rows) = steady_table(&reference, &frames, &exact());
    assert!(steps[0].is_ok() && steps[2].is_err());
    assert_eq!((rows[1].n_marks, rows[1].dy_px, rows[1].turn_rad), (1, Some(2.0), None));
    assert!(rows[2].dx_px.is_none() && rows[2].reason.as_ref().unwrap().contains("no fixed mark"));
    let gains = exposure_gains(&[Some(110.0), None, Some(10.0)], 60.0, 10.0);
    assert_eq!(gains, [Some(2.0), None, None]);
}

/// A repeatable normal draw: Box and Muller's formula over a mixed counter.
fn normal(seed: &mut u64) -> f64 {
    let mut unit = || {
        *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from(*seed >> 32).unwrap()) / f64::from(u32::MAX)
    };
    (-2.0 * unit().max(1e-12).ln()).sqrt() * (std::f64::consts::TAU * unit()).cos()
}

#[test]
fn stated_uncertainties_hold_the_truth_as_often_as_they_say() {
    let places = [mark(0.0, 0.0), mark(900.0, 10.0), mark(20.0, 400.0)];
    let read = |seed: &mut u64, at: Option<FixedMark>| {
        at.map(|at| FixedMark { point: at.point.moved(0.02 * normal(seed), 0.02 * normal(seed)), ..at })
    };
    let (mut seed, mut inside, n) = (7_u64, 0, 1000);
    let far = PixelPoint::new(1500.0, 300.0);
    for _ in 0..n {
        let reference = places.map(|place| read(&mut seed, place));
        let now = places.map(|place| read(&mut seed, moved(place, 1.2, -0.7, 3e-4)));
        let Ok(step) = steady_step(&reference, &now, &exact()) else { continue };
        let seen = moved(Some(FixedMark { point: far, cov: PixelCov::default() }), 1.2, -0.7, 3e-4).unwrap();
        let (at, cov) = steady_from_image(seen.point, &PixelCov::default(), &step);
        inside += usize::from(cov.mahalanobis2(at.x - far.x, at.y - far.y).unwrap() < 5.991);
    }
    // 95 % of 1000 (one in a thousand is refused by chance), within three standard deviations of the count.
    assert!((929..=971).contains(&inside), "{inside} of {n}");
}

proptest! {
    #[test]
    fn what_was_turned_and_shifted_comes_back(
        dx in -5.0..5.0, dy in -5.0..5.0, turn in -0.02..0.02, x in -500.0..1500.0, y in -500.0..1500.0
    ) {
        let reference = [mark(0.0, 0.0), mark(900.0, 10.0), mark(20.0, 400.0)];
        let now = reference.map(|mark| moved(mark, dx, dy, turn));
        let step = steady_step(&reference, &now, &exact()).unwrap();
        let seen = moved(mark(x, y), dx, dy, turn).unwrap();
        let (at, cov) = steady_from_image(seen.point, &seen.cov, &step);
        prop_assert!(at.distance(PixelPoint::new(x, y)) < 1e-8);
        prop_assert!(cov.xx > seen.cov.xx && cov.yy > seen.cov.yy);
    }
}
