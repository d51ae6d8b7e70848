//! Follows painted targets through short films: true marks, honest gaps, bad input.

use super::*;
use crate::locate::LocateOptions;
use crate::painted::{Canvas, Painted, uneven};
use filmgauge_quantities::GreyImage;
use rand_distr::{Distribution, Uniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

const WIDTH: usize = 480;
const HEIGHT: usize = 240;
pub(super) const RADIUS_PX: f64 = 10.0;

pub(super) fn start(id: &str, body: Option<&str>, at: PixelPoint) -> TargetStart {
    TargetStart {
        id: TargetId::new(id).unwrap(),
        body: body.map(|body| BodyId::new(body).unwrap()),
        kind: TargetKind::Quadrant,
        start_frame: FrameNumber(0),
        start: at,
        radius_px: RADIUS_PX,
        deforms: false,
    }
}

/// The empty scene, computed once.
pub(super) fn bare() -> Canvas {
    static BARE: std::sync::OnceLock<Canvas> = std::sync::OnceLock::new();
    BARE.get_or_init(|| Canvas::new(WIDTH, HEIGHT, uneven)).clone()
}

/// Place and turn of a car that runs steadily, then slows down sharply from frame 40 while its nose goes up.
pub(super) fn car_point(frame: u32, x: f64, y: f64) -> (PixelPoint, f64) {
    let t = f64::from(frame);
    let braking = (t - 40.0).max(0.0);
    let way = 2.2 * t - 0.5 * 0.04 * braking.min(50.0).powi(2) - 2.0 * (braking - 50.0).max(0.0);
    let turn = -0.12 * (braking / 60.0).min(1.0);
    let (sin, cos) = turn.sin_cos();
    (PixelPoint::new(100.3 + way + cos * x - sin * y, 120.6 + sin * x + cos * y), turn)
}

pub(super) const CAR: [(&str, f64, f64); 4] =
    [("C1", -60.0, 0.0), ("C2", 0.0, -35.0), ("C3", 45.0, 5.0), ("C4", -10.0, 40.0)];

fn target_at(frame: u32, x: f64, y: f64) -> Painted {
    let (centre, turn) = car_point(frame, x, y);
    Painted { angle_rad: 0.3 + turn, ..Painted::new(centre.x, centre.y, RADIUS_PX) }
}

pub(super) fn film_frame(frame: u32) -> Canvas {
    let mut canvas = bare();
    for (_, x, y) in CAR {
        canvas = canvas.paint(&target_at(frame, x, y));
    }
    canvas
}

pub(super) fn car_starts() -> Vec<TargetStart> {
    let near = |(x, y): (f64, f64)| car_point(0, x, y).0.moved(0.6, -0.5);
    CAR.iter().map(|&(id, x, y)| start(id, Some("car"), near((x, y)))).collect()
}

/// Follows a film of the car; `alter` changes a frame before noise.
fn run(n_frames: u32, alter: impl Fn(u32, Canvas) -> Canvas) -> Vec<Vec<Outcome>> {
    let mut follower = Follower::new(car_starts(), FollowOptions::default()).unwrap();
    (0..n_frames)
        .map(|frame| {
            let image = alter(frame, film_frame(frame)).eight(2.5, 1000 + u64::from(frame));
            follower.step(FrameNumber(frame), &image.view(), false)
        })
        .collect()
}

/// Squared distance of a mark from the truth in units of its covariance; `None` for a gap.
fn distance2(outcome: &Outcome, frame: u32, target: usize) -> Option<f64> {
    let Outcome::Mark(mark) = outcome else { return None };
    let (_, x, y) = CAR[target];
    let truth = car_point(frame, x, y).0;
    mark.cov.mahalanobis2(mark.centre.x - truth.x, mark.centre.y - truth.y)
}

#[test]
fn every_target_is_carried_through_braking_and_pitching() {
    let film = run(120, |_, canvas| canvas);
    let (mut n_marks, mut n_inside) = (0, 0);
    for (frame, outcomes) in film.iter().enumerate() {
        for (target, outcome) in outcomes.iter().enumerate() {
            let d2 = distance2(outcome, frame as u32, target)
                .unwrap_or_else(|| panic!("frame {frame} target {target}: {outcome:?}"));
            n_marks += 1;
            n_inside += usize::from(d2 < 5.991);
            let Outcome::Mark(mark) = outcome else { continue };
            assert!(d2 < 25.0, "frame {frame} target {target}: {d2}");
            assert!(mark.trust > 0.9 && mark.reason.is_empty(), "{mark:?}");
        }
    }
    let share = n_inside as f64 / f64::from(n_marks);
    assert!(share > 0.92, "{share}");
}

#[test]
fn dust_makes_a_gap_never_a_wrong_mark_and_the_body_finds_the_target_again() {
    // A cloud thickens over C2 from frame 30 to 38, stays, and thins out by frame 78; its edge crosses the target.
    let film = run(100, |frame, canvas| {
        let t = f64::from(frame);
        let dense = ((t - 28.0) / 8.0).clamp(0.0, 1.0) * ((80.0 - t) / 8.0).clamp(0.0, 1.0);
        let (_, x, y) = CAR[1];
        let centre = car_point(frame, x, y).0.moved(0.4 * (t - 55.0), 6.0);
        canvas.changed(|x, y, level| {
            let r = (x - centre.x).hypot(y - centre.y);
            let cover = dense / (1.0 + ((r - 26.0) / 3.0).exp());
            level * (1.0 - cover) + 160.0 * cover
        })
    });
    let mut n_gaps = 0;
    for (frame, outcomes) in film.iter().enumerate() {
        for (target, outcome) in outcomes.iter().enumerate() {
            match distance2(outcome, frame as u32, target) {
                Some(d2) => assert!(d2 < 30.0, "frame {frame} target {target}: {d2} {outcome:?}"),
                None => {
                    let Outcome::Gap { cause, .. } = outcome else { continue };
                    assert!(matches!(cause, GapCause::Hidden | GapCause::Rejected), "{outcome:?}");
                    n_gaps += usize::from(target == 1);
                }
            }
        }
    }
    assert!(n_gaps > 20, "{n_gaps} gaps");
    assert!(matches!(film[90][1], Outcome::Mark(_)), "{:?}", film[90][1]);
    assert!(film[90].iter().all(|outcome| matches!(outcome, Outcome::Mark(_))));
}

#[test]
fn a_hard_edged_plate_over_half_a_target_gives_no_confident_wrong_mark() {
    // A plate moves over C3 from the right; it is as bright as the paint.
    let film = run(60, |frame, canvas| {
        let (_, x, y) = CAR[2];
        let centre = car_point(frame, x, y).0;
        let edge = centre.x + 14.0 - 0.5 * f64::from(frame);
        canvas.changed(|x, y, level| {
            let is_covered = x > edge && x < centre.x + 40.0 && (y - centre.y).abs() < 18.0;
            if is_covered { 140.0 } else { level }
        })
    });
    for (frame, outcomes) in film.iter().enumerate() {
        if let Some(d2) = distance2(&outcomes[2], frame as u32, 2) {
            assert!(d2 < 30.0, "frame {frame}: {d2} {:?}", outcomes[2]);
        }
    }
    assert!(matches!(film[50][2], Outcome::Gap { .. }));
}

#[test]
fn a_flash_is_named_and_targets_return_after_it() {
    let film = run(60, |frame, canvas| {
        let bright = if (40..46).contains(&frame) { 400.0 / f64::from(frame - 39) } else { 0.0 };
        canvas.changed(|_, _, level| level + bright)
    });
    assert!(
        film[40].iter().all(|outcome| matches!(outcome, Outcome::Gap { cause: GapCause::Flash, .. })),
        "{:?}",
        film[40]
    );
    assert!(film[50].iter().all(|outcome| matches!(outcome, Outcome::Mark(_))), "{:?}", film[50]);
    for (frame, outcomes) in film.iter().enumerate() {
        for (target, outcome) in outcomes.iter().enumerate() {
            assert!(distance2(outcome, frame as u32, target).is_none_or(|d2| d2 < 30.0));
        }
    }
}

#[test]
fn damage_edges_and_late_starts_have_their_own_causes() {
    let mut starts = car_starts();
    starts[3].start_frame = FrameNumber(5);
    starts[3].start = PixelPoint::new(100.3 + 15.0 + CAR[3].1, 120.6 + CAR[3].2);
    let mut follower = Follower::new(starts, FollowOptions::default()).unwrap();
    let mut leaving = Vec::new();
    for frame in 0..130 {
        // A car that never brakes leaves the picture on the right.
        let mut canvas = bare();
        for (_, x, y) in CAR {
            let way = 3.0 * f64::from(frame);
            canvas = canvas.paint(&Painted::new(100.3 + way + x, 120.6 + y, RADIUS_PX));
        }
        let image = canvas.eight(2.0, u64::from(frame));
        let outcomes = follower.step(FrameNumber(frame), &image.view(), frame == 20);
        match frame {
            3 => assert!(matches!(outcomes[3], Outcome::Gap { cause: GapCause::BeforeStart, .. })),
            20 => assert!(
                outcomes.iter().all(|o| matches!(o, Outcome::Gap { cause: GapCause::DamagedFrame, .. }))
            ),
            21 => assert!(outcomes[..3].iter().all(|o| matches!(o, Outcome::Mark(_))), "{outcomes:?}"),
            129 => leaving = outcomes,
            _ => {}
        }
    }
    assert!(matches!(leaving[2], Outcome::Gap { cause: GapCause::OutOfView, .. }), "{:?}", leaving[2]);
}

#[test]
fn heavy_smear_is_a_gap_or_a_true_mark() {
    let mut follower =
        Follower::new(vec![start("T1", None, car_point(0, 0.0, 0.0).0)], FollowOptions::default());
    let follower = follower.as_mut().unwrap();
    for frame in 0..30_u32 {
        let mut target = target_at(frame, 0.0, 0.0);
        target.smear = (f64::from(frame), 0.0);
        let image = bare().paint(&target).eight(2.0, u64::from(frame));
        match &follower.step(FrameNumber(frame), &image.view(), false)[0] {
            Outcome::Mark(mark) => {
                assert!(mark.centre.distance(target.centre) < 0.3, "smear {frame}: {mark:?}");
            }
            Outcome::Gap { cause, why } => {
                assert!(frame > 8, "smear {frame}: {cause:?} {why}");
                assert!(
                    matches!(cause, GapCause::Blurred | GapCause::Hidden),
                    "smear {frame}: {cause:?} {why}"
                );
            }
        }
    }
}

#[test]
fn a_target_in_the_crush_zone_moves_against_its_body_and_is_kept() {
    let mut starts = car_starts();
    let mut nose = start("N1", Some("car"), car_point(0, 90.0, 20.0).0);
    nose.deforms = true;
    starts.push(nose);
    let mut follower = Follower::new(starts, FollowOptions::default()).unwrap();
    for frame in 0..100_u32 {
        let crush = 0.012 * (f64::from(frame) - 40.0).max(0.0).powi(2).min(1600.0);
        let nose = target_at(frame, 90.0 - crush, 20.0);
        let image = film_frame(frame).paint(&nose).eight(2.5, u64::from(frame));
        let outcomes = follower.step(FrameNumber(frame), &image.view(), false);
        let Outcome::Mark(mark) = &outcomes[4] else { panic!("frame {frame}: {:?}", outcomes[4]) };
        assert!(mark.centre.distance(nose.centre) < 0.1);
        assert!(outcomes.iter().all(|outcome| matches!(outcome, Outcome::Mark(_))));
    }
}

#[test]
fn starts_off_target_say_so_in_every_frame() {
    let mut starts = car_starts();
    starts[0].start = PixelPoint::new(400.0, 60.0);
    starts[1].start = PixelPoint::new(-50.0, 10.0);
    let mut follower = Follower::new(starts, FollowOptions::default()).unwrap();
    for frame in 0..3 {
        let image = film_frame(frame).eight(2.0, u64::from(frame));
        let outcomes = follower.step(FrameNumber(frame), &image.view(), false);
        for outcome in &outcomes[..2] {
            let Outcome::Gap { why, .. } = outcome else { panic!("{outcome:?}") };
            assert!(why.starts_with("start is not on a target"), "{why}");
        }
        assert!(matches!(outcomes[2], Outcome::Mark(_)));
    }
}

#[test]
fn black_white_and_tiny_frames_give_gaps() {
    for level in [0_u8, 255] {
        let mut follower = Follower::new(car_starts(), FollowOptions::default()).unwrap();
        let good = film_frame(0).eight(2.0, 1);
        follower.step(FrameNumber(0), &good.view(), false);
        let flat = GreyImage::from_u8(WIDTH, HEIGHT, vec![level; WIDTH * HEIGHT]).unwrap();
        let tiny = GreyImage::from_u8(5, 4, vec![level; 20]).unwrap();
        for (frame, image) in [(1, &flat), (2, &tiny)] {
            let outcomes = follower.step(FrameNumber(frame), &image.view(), false);
            assert!(outcomes.iter().all(|outcome| matches!(outcome, Outcome::Gap { .. })), "{outcomes:?}");
        }
        let again = follower.step(FrameNumber(2), &good.view(), false);
        assert!(again.iter().all(|outcome| matches!(outcome, Outcome::Gap { .. })));
    }
}

#[test]
fn starts_that_cannot_be_right_are_errors() {
    let options = FollowOptions::default();
    let refused = |change: &dyn Fn(&mut Vec<TargetStart>)| {
        let mut starts = car_starts();
        change(&mut starts);
        Follower::new(starts, options.clone()).unwrap_err().to_string()
    };
    assert!(refused(&|s| s[0].radius_px = 2.0).contains("radius"));
    assert!(refused(&|s| s[0].radius_px = f64::NAN).contains("radius"));
    assert!(refused(&|s| s[0].start.x = f64::NAN).contains("number"));
    assert!(refused(&|s| s[1].id = s[0].id.clone()).contains("twice"));
    assert!(refused(&|s| s[1].start = s[0].start).contains("same target as C1"));
    assert!(refused(&|s| (s[1].kind, s[1].radius_px) = (TargetKind::Patch, 300.0)).contains("half a side"));
    let wrong = FollowOptions { least_gate_px: 0.0, ..options.clone() };
    assert!(Follower::new(car_starts(), wrong).is_err());
    assert!(Follower::new(Vec::new(), options).unwrap().starts().is_empty());
}

#[test]
fn the_same_film_gives_the_same_marks_for_any_number_of_threads() {
    let film = |n_threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(n_threads).build().unwrap();
        pool.install(|| run(8, |_, canvas| canvas))
    };
    assert_eq!(film(1), film(4));
}

/// One target in a small frame, then the same under a veil with a soft straight edge; the second outcome and the truth.
fn veiled(seed: u64, draw: &mut impl FnMut() -> f64) -> (Outcome, PixelPoint) {
    let centre = PixelPoint::new(40.0 + draw(), 40.0 + draw());
    let target = Painted { angle_rad: 3.0 * draw(), ..Painted::new(centre.x, centre.y, RADIUS_PX) };
    let clean = Canvas::new(80, 80, |_, _| 110.0).paint(&target);
    let mut follower = Follower::new(vec![start("A", None, centre)], FollowOptions::default()).unwrap();
    follower.step(FrameNumber(0), &clean.eight(2.5, seed).view(), false);
    let (opacity, softness, turn) = (draw(), 0.5 + 6.0 * draw(), 6.3 * draw());
    let (offset, dust) = (24.0 * (draw() - 0.5), 60.0 + 160.0 * draw());
    let under = clean.changed(|x, y, level| {
        let depth = (x - centre.x) * turn.cos() + (y - centre.y) * turn.sin() - offset;
        let cover = opacity / (1.0 + (-depth / softness).exp());
        level * (1.0 - cover) + cover * dust
    });
    let image = under.eight(2.5, seed + 1);
    (follower.step(FrameNumber(1), &image.view(), false).remove(0), centre)
}

#[test]
fn under_any_veil_the_stated_ellipse_still_holds() {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(5);
    let unit = Uniform::new(0.0, 1.0).unwrap();
    let mut draw = || unit.sample(&mut random);
    let (mut n_marks, mut n_inside, mut worst) = (0, 0, 0.0_f64);
    for k in 0..1200 {
        let (Outcome::Mark(mark), truth) = veiled(2 * k, &mut draw) else { continue };
        let (dx, dy) = (mark.centre.x - truth.x, mark.centre.y - truth.y);
        let d2 = mark.cov.mahalanobis2(dx, dy).unwrap();
        n_marks += 1;
        n_inside += usize::from(d2 < 5.991);
        worst = worst.max(d2);
    }
    let share = n_inside as f64 / n_marks as f64;
    println!("veiled: {n_marks} marks of 1200, {share:.3} inside, worst squared distance {worst:.1}");
    assert!(n_marks > 200 && share > 0.9 && worst < 35.0, "{n_marks} {share} {worst}");
}

#[test]
fn the_pictures_own_uncertainty_is_added_to_every_mark() {
    let image = film_frame(0).eight(2.0, 1);
    let covs = [0.0, 0.03].map(|picture_u_px| {
        let locate = LocateOptions { picture_u_px, ..LocateOptions::default() };
        let options = FollowOptions { locate, ..FollowOptions::default() };
        let mut follower = Follower::new(car_starts(), options).unwrap();
        let outcomes = follower.step(FrameNumber(0), &image.view(), false);
        let Outcome::Mark(mark) = &outcomes[0] else { panic!("{outcomes:?}") };
        mark.cov
    });
    assert!((covs[1].xx - covs[0].xx - 0.0009).abs() < 1e-12);
    assert!((covs[1].yy - covs[0].yy - 0.0009).abs() < 1e-12 && covs[1].xy == covs[0].xy);
}

#[test]
fn discs_on_plain_ground_and_a_body_of_one_are_carried() {
    let at = |frame: u32| PixelPoint::new(60.3 + 1.7 * f64::from(frame), 50.6 + 0.2 * f64::from(frame));
    let mut disc = start("D1", Some("board"), at(0));
    disc.kind = TargetKind::Disc;
    disc.radius_px = 8.0;
    let mut follower = Follower::new(vec![disc], FollowOptions::default()).unwrap();
    for frame in 0..30_u32 {
        let mut painted = Painted::new(at(frame).x, at(frame).y, 8.0);
        (painted.dark, painted.bright) = (200.0, 200.0);
        let image = Canvas::new(160, 110, |_, _| 80.0).paint(&painted).eight(2.0, u64::from(frame));
        let outcomes = follower.step(FrameNumber(frame), &image.view(), false);
        let Outcome::Mark(mark) = &outcomes[0] else { panic!("frame {frame}: {outcomes:?}") };
        assert!(mark.centre.distance(at(frame)) < 0.03, "frame {frame}: {mark:?}");
    }
}
