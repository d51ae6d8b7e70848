//! What a whole film yields in the end: hidden targets inferred, marks by hand, patches of texture, blank frames.

use super::tests::{CAR, RADIUS_PX, bare, car_point, car_starts, film_frame, start};
use super::*;
use crate::painted::{Canvas, Painted};
use filmgauge_quantities::{MarkState, PixelCov};

/// A plate over C2 from frame 30 to 59.
fn plated(frame: u32) -> Canvas {
    let canvas = film_frame(frame);
    if !(30..60).contains(&frame) {
        return canvas;
    }
    let centre = car_point(frame, CAR[1].1, CAR[1].2).0;
    canvas.changed(|x, y, level| if (x - centre.x).hypot(y - centre.y) < 18.0 { 140.0 } else { level })
}

#[test]
fn a_hidden_target_is_inferred_within_its_ellipse() {
    let mut follower = Follower::new(car_starts(), FollowOptions::default()).unwrap();
    for frame in 0..90_u32 {
        let outcomes =
            follower.step(FrameNumber(frame), &plated(frame).eight(2.5, u64::from(frame)).view(), false);
        assert_eq!(outcomes[1].mark().is_some(), !(30..60).contains(&frame), "frame {frame}");
    }
    let outcomes = follower.finish();
    let mut n_inside = 0;
    for frame in 30..60_u32 {
        let mark = outcomes[1][frame as usize].mark().unwrap();
        let truth = car_point(frame, CAR[1].1, CAR[1].2).0;
        let d2 = mark.cov.mahalanobis2(mark.centre.x - truth.x, mark.centre.y - truth.y).unwrap();
        assert!(mark.state == MarkState::Inferred && mark.trust <= 0.5, "{mark:?}");
        assert!(mark.reason.contains("hidden") && outcomes[1][frame as usize].measured().is_none());
        assert!(d2 < 16.0, "frame {frame}: {d2}");
        n_inside += usize::from(d2 < 5.991);
    }
    assert!(n_inside >= 26, "{n_inside}");
}

#[test]
fn marks_by_hand_win_and_the_search_goes_on_from_them() {
    // A target by itself leaps by 200 px behind a plate; only the person knows where it is.
    let at = |frame: u32| {
        let leap = if frame >= 20 { 250.0 } else { 0.0 };
        PixelPoint::new(60.3 + f64::from(frame) + leap, 100.6)
    };
    let hand = vec![HandMark {
        frame: FrameNumber(24),
        target: TargetId::new("A").unwrap(),
        centre: at(24).moved(0.5, 0.2),
        u_px: [0.4, 0.3],
    }];
    let options =
        FollowOptions { greatest_reach_px: 60.0, reach_growth_px: 20.0, ..FollowOptions::default() };
    let starts = vec![start("A", None, at(0))];
    let mut follower = Follower::with_hand(starts, hand, options).unwrap();
    for frame in 0..40_u32 {
        let target = at(frame);
        let image = bare().paint(&Painted::new(target.x, target.y, RADIUS_PX)).eight(2.0, u64::from(frame));
        follower.step(FrameNumber(frame), &image.view(), false);
    }
    let outcomes = follower.finish().remove(0);
    let by_hand = outcomes[24].mark().unwrap();
    assert_eq!((by_hand.state, by_hand.centre), (MarkState::Hand, at(24).moved(0.5, 0.2)));
    assert!((by_hand.cov.xx - 0.16).abs() < 1e-12 && (by_hand.cov.yy - 0.09).abs() < 1e-12);
    for frame in (0..20).chain(25..40) {
        let mark = outcomes[frame as usize].measured().unwrap_or_else(|| panic!("{frame}: {outcomes:?}"));
        assert!(mark.centre.distance(at(frame)) < 0.1, "{frame}: {mark:?}");
    }
}

#[test]
fn marks_by_hand_that_cannot_be_right_are_errors() {
    let mark = |target: &str, x: f64| HandMark {
        frame: FrameNumber(3),
        target: TargetId::new(target).unwrap(),
        centre: PixelPoint::new(x, 5.0),
        u_px: [0.3, 0.3],
    };
    let refused = |hand: Vec<HandMark>| {
        Follower::with_hand(car_starts(), hand, FollowOptions::default()).unwrap_err().to_string()
    };
    assert!(refused(vec![mark("Z9", 4.0)]).contains("no such target"));
    assert!(refused(vec![mark("C1", f64::NAN)]).contains("not a number"));
    assert!(refused(vec![mark("C1", 4.0), mark("C1", 5.0)]).contains("given twice"));
}

#[test]
fn a_patch_of_texture_is_carried() {
    let ground = |x: f64, y: f64| {
        110.0
            + 25.0 * (0.31 * x + 0.12 * y).sin()
            + 22.0 * (0.17 * x - 0.42 * y).cos()
            + 18.0 * (0.5 * x).sin() * (0.43 * y).cos()
    };
    let at = |frame: u32| PixelPoint::new(60.0 + 1.7 * f64::from(frame), 60.0 - 0.3 * f64::from(frame));
    let patch = TargetStart {
        kind: TargetKind::Patch,
        radius_px: 15.0,
        ..start("P1", None, PixelPoint::new(60.0, 60.0))
    };
    let mut follower = Follower::new(vec![patch], FollowOptions::default()).unwrap();
    for frame in 0..30_u32 {
        let moved = at(frame);
        let image =
            Canvas::new(180, 120, |x, y| ground(x - moved.x, y - moved.y)).eight(2.0, u64::from(frame));
        let outcomes = follower.step(FrameNumber(frame), &image.view(), false);
        let Outcome::Mark(mark) = &outcomes[0] else { panic!("frame {frame}: {outcomes:?}") };
        assert!(mark.centre.distance(moved) < 0.05 && mark.trust > 0.5, "frame {frame}: {mark:?}");
    }
}

#[test]
fn blank_frames_are_named_with_what_to_do() {
    let mut follower = Follower::new(car_starts(), FollowOptions::default()).unwrap();
    follower.step(FrameNumber(0), &film_frame(0).eight(2.0, 1).view(), false);
    for (frame, level, words) in [(1, 0.0, "frame 1 is black"), (2, 255.0, "frame 2 is saturated")] {
        let image = Canvas::new(480, 240, |_, _| level).eight(0.5, 2);
        let outcomes = follower.step(FrameNumber(frame), &image.view(), false);
        let Outcome::Gap { why, .. } = &outcomes[0] else { panic!("{outcomes:?}") };
        assert!(why.starts_with(words) && why.contains("leave it out"), "{why}");
    }
    let after = follower.step(FrameNumber(3), &film_frame(3).eight(2.0, 3).view(), false);
    assert!(after.iter().all(|outcome| outcome.measured().is_some()), "{after:?}");
}

#[test]
fn a_target_by_itself_is_confirmed_and_looked_back_for() {
    let at = |frame: u32| PixelPoint::new(60.3 + 3.0 * f64::from(frame), 100.6);
    let mut follower = Follower::new(vec![start("A", None, at(0))], FollowOptions::default()).unwrap();
    for frame in 0..60_u32 {
        let centre = at(frame);
        let mut canvas = bare().paint(&Painted::new(centre.x, centre.y, RADIUS_PX));
        if (20..40).contains(&frame) {
            canvas = canvas.changed(
                |x, y, level| {
                    if (x - centre.x).hypot(y - centre.y) < 16.0 { 140.0 } else { level }
                },
            );
        }
        let outcomes = follower.step(FrameNumber(frame), &canvas.eight(2.0, u64::from(frame)).view(), false);
        if frame == 30 {
            assert!(matches!(outcomes[0], Outcome::Gap { cause: GapCause::Hidden, .. }), "{outcomes:?}");
        }
    }
    for (frame, outcome) in (0..).zip(follower.finish().remove(0)) {
        match outcome.mark() {
            Some(mark) => assert!(mark.centre.distance(at(frame)) < 0.1, "{frame}: {mark:?}"),
            None => assert!((20..40).contains(&frame), "{frame}: {outcome:?}"),
        }
    }
}

#[test]
fn a_body_of_one_infers_nothing_and_the_last_word_depends_on_no_thread() {
    let finish = |n_threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(n_threads).build().unwrap();
        pool.install(|| {
            let mut starts = car_starts();
            starts.push(start("L1", Some("lone"), PixelPoint::new(300.0, 200.0)));
            let mut follower = Follower::new(starts, FollowOptions::default()).unwrap();
            for frame in 0..45_u32 {
                let mut canvas = plated(frame);
                if frame % 4 != 3 {
                    canvas = canvas.paint(&Painted::new(300.0, 200.0, RADIUS_PX));
                }
                follower.step(FrameNumber(frame), &canvas.eight(2.5, u64::from(frame)).view(), false);
            }
            follower.finish()
        })
    };
    let outcomes = finish(1);
    assert_eq!(outcomes, finish(4));
    assert!(outcomes[4][43].mark().is_none(), "{:?}", outcomes[4][43]);
    let round = PixelCov::round(0.1);
    assert!(outcomes[4][42].measured().is_some_and(|mark| mark.cov.xx < round.xx));
}
