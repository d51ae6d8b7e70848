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
    let [dx_px, dy_px, turn] = step.shift_and_turn();
    assert!((dx_px - 1.5).abs() < 1e-9 && (dy_px + 1.0).abs() < 1e-9 && turn == 0.0);
    assert!(!step.turn_told && step.misfit_px.is_none());
    // Variance of the shift: two readings of 0.02 px; 1000 px away the assumed turn of 3e-4 rad adds 0.3 px.
    assert!((step.cov()[0][0] - 2.0 * 0.02 * 0.02).abs() < 1e-9);
    let (at, cov) = steady_from_image(PixelPoint::new(1101.5, 49.0), &PixelCov::default(), &step).unwrap();
    assert!(at.distance(PixelPoint::new(1100.0, 50.0)) < 1e-9);
    assert!((cov.yy.sqrt() - (0.09 + 0.0008_f64).sqrt()).abs() < 1e-9);
}

#[test]
fn variances_are_those_of_the_stated_formula() {
    // u²/n of a shift and u²/Σr² of a turn, with u² = 2 · 0.02² for two readings (computed from the stated formula).
    let reference = [mark(0.0, 0.0), mark(1000.0, 0.0)];
    let step = steady_step(&reference, &reference, &exact()).unwrap();
    assert!(step.turn_told);
    assert!((step.cov()[0][0] - 0.0008 / 2.0).abs() < 1e-12);
    assert!((step.cov()[2][2] - 0.0008 / 500_000.0).abs() < 1e-15);
}

#[test]
fn a_single_bad_mark_is_left_out_and_named() {
    let reference = [mark(0.0, 0.0), mark(900.0, 10.0), mark(20.0, 400.0), mark(880.0, 390.0)];
    let mut now = reference.map(|mark| moved(mark, 0.8, -0.4, 2e-4));
    now[2] = now[2].map(|mark| FixedMark { point: mark.point.moved(3.0, 0.0), ..mark });
    let step = steady_step(&reference, &now, &exact()).unwrap();
    assert_eq!(step.left_out, Some(2));
    assert!((step.shift_and_turn()[2] - 2e-4).abs() < 1e-9);
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
        let (at, cov) = steady_from_image(seen.point, &PixelCov::default(), &step).unwrap();
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
        let (at, cov) = steady_from_image(seen.point, &seen.cov, &step).unwrap();
        prop_assert!(at.distance(PixelPoint::new(x, y)) < 1e-8);
        prop_assert!(cov.xx > seen.cov.xx && cov.yy > seen.cov.yy);
    }
}

/// Six places that stand still, spread over a wide picture.
fn six() -> Vec<Option<FixedMark>> {
    [(60.0, 90.0), (640.0, 60.0), (1230.0, 110.0), (80.0, 420.0), (600.0, 400.0), (1200.0, 380.0)]
        .map(|(x, y)| mark(x, y))
        .into()
}

fn lens() -> crate::Lens {
    crate::Lens::pinhole(1757.0, 642.5, 221.0)
}

/// Places of the six after a pan, tilt and roll of a camera with the lens, or after a change of perspective.
fn seen(mark: Option<FixedMark>, by: &str, n: f64) -> Option<FixedMark> {
    let (lens, place) = (lens(), mark?.point);
    let (x, y) = ((place.x - lens.cx_px) / lens.fx_px, (place.y - lens.cy_px) / lens.fy_px);
    let point = match by {
        "swing" => {
            let turn = nalgebra::Rotation3::new(nalgebra::Vector3::new(0.003, 0.008, 0.001) * n);
            let ray = turn * nalgebra::Vector3::new(x, y, 1.0);
            PixelPoint::new(lens.cx_px + lens.fx_px * ray.x / ray.z, lens.cy_px + lens.fy_px * ray.y / ray.z)
        }
        "size" => PixelPoint::new(place.x * (1.0 + 2e-3 * n) + 1.0, place.y * (1.0 + 2e-3 * n) - n),
        "perspective" => {
            let far = 1.0 + n * (1e-5 * place.x - 2e-5 * place.y);
            PixelPoint::new((place.x * 1.001 + n) / far, (place.y + 0.001 * n * place.x) / far)
        }
        _ => PixelPoint::new(place.x + n, place.y - 0.5 * n),
    };
    Some(FixedMark { point, cov: PixelCov::round(0.02) })
}

const MODELS: [SteadyModel; 4] = [
    SteadyModel::Turn,
    SteadyModel::Zoom,
    SteadyModel::Swing { focal_px: [1757.0; 2], centre: PixelPoint { x: 642.5, y: 221.0 } },
    SteadyModel::Plane,
];

#[test]
fn the_evidence_is_for_what_moved_the_picture() {
    let reference = six();
    for (by, wanted) in [("shift", 0), ("size", 1), ("swing", 2), ("perspective", 3)] {
        let mut seed = 11;
        let frames: Vec<Vec<Option<FixedMark>>> = (1..=20)
            .map(|frame| {
                let n = f64::from(frame % 5 - 2);
                let mut read = |at: Option<FixedMark>| {
                    at.map(|at| FixedMark {
                        point: at.point.moved(0.02 * normal(&mut seed), 0.02 * normal(&mut seed)),
                        ..at
                    })
                };
                reference.iter().map(|mark| read(seen(*mark, by, n))).collect()
            })
            .collect();
        let evidence = steady_evidence(&reference, &frames, &MODELS, &exact());
        assert_eq!(evidence.iter().map(|one| one.n_frames).collect::<Vec<_>>(), [20; 4]);
        assert_eq!(steady_model(&evidence, SteadyModel::Shift), MODELS[wanted], "{by}: {evidence:?}");
    }
}

#[test]
fn every_model_brings_a_far_point_home_within_its_doubt() {
    for (by, model) in [("shift", 0), ("size", 1), ("swing", 2), ("perspective", 3)] {
        let options = SteadyOptions { model: MODELS[model], ..exact() };
        let (mut seed, mut inside, mut n) = (5_u64, 0, 0);
        let far = PixelPoint::new(1000.0, 250.0);
        for k in 0..800 {
            let by_how_much = f64::from(k % 7 - 3);
            let mut read = |at: Option<FixedMark>| {
                at.map(|at| FixedMark {
                    point: at.point.moved(0.02 * normal(&mut seed), 0.02 * normal(&mut seed)),
                    ..at
                })
            };
            let reference: Vec<_> = six().into_iter().map(&mut read).collect();
            let now: Vec<_> = six().into_iter().map(|mark| read(seen(mark, by, by_how_much))).collect();
            let Ok(step) = steady_step(&reference, &now, &options) else { continue };
            let there = seen(mark(far.x, far.y), by, by_how_much).unwrap().point;
            let (at, cov) = steady_from_image(there, &PixelCov::default(), &step).unwrap();
            assert!(image_from_steady(at, &step).distance(there) < 1e-8);
            n += 1;
            inside += usize::from(cov.mahalanobis2(at.x - far.x, at.y - far.y).unwrap() < 5.991);
        }
        // 95 % of 800 within three standard deviations of the count; one frame in a thousand is refused by chance.
        assert!(n >= 790 && (741..=779).contains(&inside), "{by}: {inside} of {n}");
    }
}

#[test]
fn too_few_marks_for_a_model_fall_back_to_a_simpler_one() {
    let options = SteadyOptions { model: SteadyModel::Plane, ..exact() };
    let reference = &six()[..3];
    let step = steady_step(reference, reference, &options).unwrap();
    assert_eq!(step.model(), SteadyModel::Turn);
    let alone = steady_step(
        &reference[..1],
        &reference[..1],
        &SteadyOptions { model: SteadyModel::swing(&lens()), ..exact() },
    );
    assert!(!alone.unwrap().turn_told);
}

#[test]
fn shift_and_roll_of_two_fixed_targets() {
    // Computed: equal shifts subtract; (3, -2) and (3, 2) px at 1000 px spacing are a roll of 4/1000 rad, 0.2292°. What is
    // taken out adds u² (1/n + r²/Σr²); each reading is a difference of two, so u² is 2 · 0.02².
    let reference = [mark(100.0, 50.0), mark(1100.0, 50.0)];
    let moved_by = |at: Option<FixedMark>, dx: f64, dy: f64| {
        at.map(|at| FixedMark { point: at.point.moved(dx, dy), ..at })
    };
    let shifted = reference.map(|at| moved_by(at, 3.0, -2.0));
    let step = steady_step(&reference, &shifted, &exact()).unwrap();
    assert!(step.shift_and_turn()[2].abs() < 1e-12);
    let (at, _) = steady_from_image(PixelPoint::new(503.0, 298.0), &PixelCov::default(), &step).unwrap();
    assert!(at.distance(PixelPoint::new(500.0, 300.0)) < 1e-9);
    let rolled = [moved_by(reference[0], 3.0, -2.0), moved_by(reference[1], 3.0, 2.0)];
    let loose = SteadyOptions { significance: 1e-12, ..exact() };
    let step = steady_step(&reference, &rolled, &loose).unwrap();
    assert!((step.shift_and_turn()[2].to_degrees() - 0.2292).abs() < 5e-5);
    let at_first = rolled[0].unwrap().point;
    let (_, cov) = steady_from_image(at_first, &PixelCov::default(), &step).unwrap();
    assert!((cov.yy - 0.0008).abs() < 1e-8, "{cov:?}");
}

#[test]
fn a_swing_is_taken_out_of_stored_pixels_through_the_lens() {
    let lens = crate::Lens { k1: -0.1, p1: 2e-4, ..lens() };
    // What a lens without distortion would see, as this one stores it.
    let stored = |at: Option<FixedMark>| at.map(|at| FixedMark { point: lens.distort(at.point), ..at });
    let reference: Vec<_> = six().into_iter().map(stored).collect();
    let now: Vec<_> = six().into_iter().map(|at| stored(seen(at, "swing", 1.0))).collect();
    let ideal = |marks: &[Option<FixedMark>]| -> Vec<_> {
        marks.iter().map(|at| ideal_mark(&at.unwrap(), &lens)).collect()
    };
    let options = SteadyOptions { model: SteadyModel::swing(&lens), ..exact() };
    let step = steady_step(&ideal(&reference), &ideal(&now), &options).unwrap();
    let (home, there) = (mark(1000.0, 250.0), seen(mark(1000.0, 250.0), "swing", 1.0));
    let (home, there) = (stored(home).unwrap().point, stored(there).unwrap().point);
    let (at, cov) = steady_from_stored(there, &PixelCov::round(0.02), &step, Some(&lens)).unwrap();
    assert!(at.distance(home) < 1e-6 && cov.xx > 0.02 * 0.02, "{at:?} {home:?} {cov:?}");
    assert!(stored_from_steady(home, &step, Some(&lens)).unwrap().distance(there) < 1e-6);
    // Without the lens the same step would leave more than a tenth of a pixel.
    let (plain, _) = steady_from_image(there, &PixelCov::round(0.02), &step).unwrap();
    assert!(plain.distance(home) > 0.1, "{plain:?}");
}

#[test]
fn a_mark_pushed_on_its_own_does_not_speak_for_a_bending_model() {
    let reference = [
        mark(0.0, 0.0),
        mark(900.0, 10.0),
        mark(20.0, 400.0),
        mark(880.0, 390.0),
        mark(450.0, 5.0),
        mark(440.0, 395.0),
    ];
    let frame = |pushed: f64, turn: f64| {
        let mut now: Vec<_> = reference.iter().map(|mark| moved(*mark, 3.0, -2.0, turn)).collect();
        now[1] = now[1].map(|mark| FixedMark { point: mark.point.moved(pushed, 0.0), ..mark });
        now
    };
    let frames = [frame(0.0, 1e-3), frame(2.0, -5e-3), frame(2.0, 4e-3)];
    let models = [SteadyModel::Turn, SteadyModel::Plane];
    let evidence = steady_evidence(&reference, &frames, &models, &exact());
    assert_eq!(steady_model(&evidence, SteadyModel::Plane), SteadyModel::Turn, "{evidence:?}");
    let step = steady_step(&reference, &frames[1], &exact()).unwrap();
    assert_eq!(step.left_out, Some(1), "a turn of a shaking camera blames no other mark");
}
