//! Marks that a person sets aside: gone from the outcomes and from the fit of the body, and nothing else changes.

use super::tests::{CAR, bare, car_point, car_starts, film_frame};
use super::*;
use filmgauge_quantities::MarkState;

fn aside(target: &str, first: u32, last: u32) -> SetAside {
    SetAside { target: TargetId::new(target).unwrap(), frames: first..=last, cause: GapCause::Blurred }
}

/// C2 behind a plate from frame 20 to 34.
fn finish(asides: Vec<SetAside>, hand: Vec<HandMark>) -> Vec<Vec<Outcome>> {
    let follower = Follower::with_hand(car_starts(), hand, FollowOptions::default()).unwrap();
    let mut follower = follower.setting_aside(asides).unwrap();
    for frame in 0..50_u32 {
        let mut canvas = film_frame(frame);
        if (20..35).contains(&frame) {
            let centre = car_point(frame, CAR[1].1, CAR[1].2).0;
            canvas = canvas.changed(
                |x, y, level| {
                    if (x - centre.x).hypot(y - centre.y) < 18.0 { 140.0 } else { level }
                },
            );
        }
        let outcomes = follower.step(FrameNumber(frame), &canvas.eight(2.5, u64::from(frame)).view(), false);
        let is_aside = follower.asides.holds(3, FrameNumber(frame));
        assert_eq!(outcomes[3].mark().is_none(), is_aside, "frame {frame}: {:?}", outcomes[3]);
    }
    follower.finish()
}

#[test]
fn what_is_set_aside_is_gone_and_the_rest_stays() {
    let (plain, outcomes) = (finish(Vec::new(), Vec::new()), finish(vec![aside("C4", 10, 30)], Vec::new()));
    for (frame, (outcome, before)) in (0_u32..).zip(outcomes[3].iter().zip(&plain[3])) {
        match outcome {
            Outcome::Gap { cause, why } => {
                assert!((10..=30).contains(&frame) && *cause == GapCause::Blurred, "{frame}: {cause:?}");
                assert!(why.contains("set aside"), "{why}");
            }
            Outcome::Mark(_) => {
                assert!(!(10..=30).contains(&frame));
                assert_eq!(outcome, before, "frame {frame}");
            }
        }
    }
    // The hidden target is placed by those that are still trusted, and its band is wider there.
    for (frame, n_others) in [(25, 2), (32, 3)] {
        let (mark, before) = (outcomes[1][frame].mark().unwrap(), plain[1][frame].mark().unwrap());
        assert!(mark.state == MarkState::Inferred && before.state == MarkState::Inferred);
        assert!(mark.reason.contains(&format!("placed by {n_others} other targets")), "{}", mark.reason);
        assert!(n_others == 3 || mark.cov.xx + mark.cov.yy > before.cov.xx + before.cov.yy);
    }
}

#[test]
fn marks_by_hand_and_the_time_before_the_start_stand() {
    let at = car_point(12, CAR[3].1, CAR[3].2).0;
    let target = TargetId::new("C4").unwrap();
    let hand = HandMark { frame: FrameNumber(12), target, centre: at, u_px: [0.3, 0.3] };
    let mut starts = car_starts();
    starts[3].start_frame = FrameNumber(5);
    let follower = Follower::with_hand(starts, vec![hand], FollowOptions::default()).unwrap();
    let mut follower = follower.setting_aside(vec![aside("C4", 0, 20)]).unwrap();
    for frame in 0..15 {
        follower.step(FrameNumber(frame), &bare().eight(2.5, u64::from(frame)).view(), false);
    }
    let outcomes = follower.finish().remove(3);
    assert!(matches!(outcomes[2], Outcome::Gap { cause: GapCause::BeforeStart, .. }));
    assert!(matches!(outcomes[9], Outcome::Gap { cause: GapCause::Blurred, .. }));
    assert!(outcomes[12].mark().is_some_and(|mark| mark.state == MarkState::Hand));
}

#[test]
fn an_unknown_target_cannot_be_set_aside() {
    let follower = Follower::new(car_starts(), FollowOptions::default()).unwrap();
    let refused = follower.setting_aside(vec![aside("Z9", 0, 3)]).unwrap_err().to_string();
    assert!(refused.contains("Z9") && refused.contains("no such target"), "{refused}");
}
