//! Starts that cannot be used: each is told in every frame, with the start's frame and what to do, and spoils no other.

use super::tests::{CAR, bare, car_point, car_starts, film_frame, start};
use super::*;
use crate::painted::Canvas;

/// What is said of the first start after frames 0 to 2 of the car's film, each changed by `alter`; the others must be found.
fn said(mut starts: Vec<TargetStart>, alter: impl Fn(u32, Canvas) -> Canvas) -> String {
    let rest = car_starts().split_off(1);
    starts.extend(rest);
    let n_bad = starts.len() - 3;
    let mut follower = Follower::new(starts, FollowOptions::default()).unwrap();
    for frame in 0..3 {
        let image = alter(frame, film_frame(frame)).eight(2.0, u64::from(frame));
        follower.step(FrameNumber(frame), &image.view(), false);
    }
    let outcomes = follower.finish();
    assert!(outcomes[n_bad..].iter().all(|track| track[2].measured().is_some()), "{outcomes:?}");
    let words = |outcome: &Outcome| match outcome {
        Outcome::Gap { cause: GapCause::Rejected, why } => why.clone(),
        other => panic!("{other:?}"),
    };
    let first = words(&outcomes[n_bad - 1][1]);
    assert_eq!(first, words(&outcomes[n_bad - 1][2]));
    first
}

fn plain(_: u32, canvas: Canvas) -> Canvas {
    canvas
}

fn holds(said: &str, parts: &[&str]) {
    for part in parts {
        assert!(said.contains(part), "\"{part}\" is missing from: {said}");
    }
}

#[test]
fn a_start_beside_every_target() {
    let said = said(vec![start("A", None, PixelPoint::new(420.0, 60.0))], plain);
    holds(&said, &["not on a target", "in frame 0", "place it within 2 px"]);
}

#[test]
fn a_target_larger_than_the_edge_allows() {
    let near_edge = TargetStart { radius_px: 60.0, ..start("A", None, PixelPoint::new(40.0, 120.0)) };
    holds(&said(vec![near_edge], plain), &["in frame 0", "not wholly in the picture", "clear of the edge"]);
    let patch = TargetStart {
        kind: TargetKind::Patch,
        radius_px: 30.0,
        ..start("A", None, PixelPoint::new(12.0, 120.0))
    };
    holds(&said(vec![patch], plain), &["in frame 0", "left the picture", "clear of the edge"]);
}

#[test]
fn two_starts_on_one_target() {
    let at = car_point(0, CAR[0].1, CAR[0].2).0;
    let twins = vec![start("A", None, at.moved(-2.6, 0.0)), start("B", None, at.moved(2.6, 0.0))];
    let said = said(twins, plain);
    holds(&said, &["in frame 0", "same target as A", "take one of the two out"]);
    let refused = Follower::new(vec![start("A", None, at), start("B", None, at)], FollowOptions::default());
    holds(&refused.unwrap_err().to_string(), &["target B", "in frame 0", "same target as A", "take one"]);
}

#[test]
fn a_patch_without_texture() {
    let place = PixelPoint::new(400.0, 60.0);
    let patch = TargetStart { kind: TargetKind::Patch, radius_px: 12.0, ..start("A", None, place) };
    let flat = |_, canvas: Canvas| {
        canvas.changed(
            |x, y, level| {
                if (x - 400.0).abs() < 30.0 && (y - 60.0).abs() < 30.0 { 90.0 } else { level }
            },
        )
    };
    holds(&said(vec![patch], flat), &["in frame 0", "no texture to hold on to", "move the patch"]);
}

#[test]
fn a_start_in_a_frame_that_shows_nothing() {
    for (level, words) in [(0.0, "is black"), (255.0, "is saturated")] {
        let mut follower = Follower::new(car_starts(), FollowOptions::default()).unwrap();
        for frame in 0..3 {
            let canvas = film_frame(frame);
            let canvas = if frame == 0 { canvas.changed(|_, _, _| level) } else { canvas };
            follower.step(FrameNumber(frame), &canvas.eight(0.5, u64::from(frame)).view(), false);
        }
        let Outcome::Gap { why, .. } = &follower.finish()[0][2] else { panic!("found after all") };
        holds(why, &["not on a target", "in frame 0", words, "start in another frame"]);
    }
    let mut follower = Follower::new(car_starts(), FollowOptions::default()).unwrap();
    let image = film_frame(0).eight(2.0, 1);
    follower.step(FrameNumber(0), &image.view(), true);
    let outcomes = follower.step(FrameNumber(1), &image.view(), false);
    let Outcome::Gap { why, .. } = &outcomes[0] else { panic!("{outcomes:?}") };
    holds(why, &["in frame 0", "damaged", "start in another frame"]);
    let mut follower = Follower::new(car_starts(), FollowOptions::default()).unwrap();
    let outcomes = follower.step(FrameNumber(7), &image.view(), false);
    let Outcome::Gap { why, .. } = &outcomes[0] else { panic!("{outcomes:?}") };
    holds(why, &["in frame 0", "never given", "start in another frame"]);
}

#[test]
fn a_body_of_one_target_is_followed() {
    let at = car_point(0, CAR[0].1, CAR[0].2).0;
    let mut follower = Follower::new(vec![start("A", Some("lone"), at)], FollowOptions::default()).unwrap();
    for frame in 0..20 {
        let canvas = if frame == 9 { bare() } else { film_frame(frame) };
        follower.step(FrameNumber(frame), &canvas.eight(2.0, u64::from(frame)).view(), false);
    }
    for (frame, outcome) in follower.finish().remove(0).iter().enumerate() {
        assert_eq!(outcome.measured().is_some(), frame != 9, "frame {frame}: {outcome:?}");
    }
}
