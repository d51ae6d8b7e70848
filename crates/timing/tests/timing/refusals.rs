//! Bad input: what is refused, and what is named beside a result that stands.

use crate::simulation::{Noise, noisy_marks};
use filmgauge_timing::{
    ClockPoint, CommonOptions, Drift, Edge, FilmClock, FilmSpeedOptions, LagOptions, Observation, Pulse,
    RateRecord, TimedSeries, TimingError, TimingNote, common_clock, fit_clock_points, fit_film_clock,
    lag_between,
};

fn even_marks(n: u32, spacing: f64) -> Vec<Pulse> {
    (0..n).map(|k| Pulse { frame: 2.0 + spacing * f64::from(k), u_frames: 0.05, edge: Edge::On }).collect()
}

#[test]
fn marks_that_make_no_clock() {
    let options = FilmSpeedOptions::default();
    let refused =
        |marks: &[Pulse], frequency_hz: f64| fit_film_clock(marks, frequency_hz, &options).unwrap_err();
    let marks = even_marks(12, 9.7);
    for frequency_hz in [0.0, -100.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(
            refused(&marks, frequency_hz),
            TimingError::Setting { setting: "frequency_hz", .. }
        ));
    }
    assert!(matches!(refused(&[], 100.0), TimingError::TooFew { found: 0, .. }));
    assert!(matches!(refused(&marks[..1], 100.0), TimingError::TooFew { found: 1, .. }));
    let change = |change: fn(&mut Vec<Pulse>)| {
        let mut marks = marks.clone();
        change(&mut marks);
        refused(&marks, 100.0)
    };
    assert!(matches!(change(|m| m[3].frame = f64::NAN), TimingError::Unusable { index: 3, .. }));
    assert!(matches!(change(|m| m[4].u_frames = 0.0), TimingError::Unusable { index: 4, .. }));
    assert!(matches!(change(|m| m.swap(5, 6)), TimingError::Backwards { index: 6, .. }));
    assert!(matches!(change(|m| m[2].edge = Edge::Off), TimingError::NotDetermined { .. }));
    let too_high = FilmSpeedOptions { most_degree: 9, ..options };
    assert!(matches!(fit_film_clock(&marks, 100.0, &too_high), Err(TimingError::Setting { .. })));
}

#[test]
fn clock_points_that_run_backwards() {
    let point = |frame, time_s| ClockPoint { frame, time_s, u_s: 1e-4 };
    let fit = |points: &[ClockPoint]| fit_clock_points(points, &FilmSpeedOptions::default());
    let backwards = [point(0.0, 0.0), point(10.0, 0.02), point(20.0, 0.01)];
    assert!(matches!(fit(&backwards), Err(TimingError::Backwards { index: 2, .. })));
    assert!(matches!(fit(&[point(0.0, 0.0), point(0.0, 0.1)]), Err(TimingError::Backwards { .. })));
    assert!(matches!(fit(&[point(0.0, f64::NAN), point(1.0, 0.1)]), Err(TimingError::Unusable { .. })));
    assert!(matches!(fit(&[]), Err(TimingError::TooFew { .. })));
}

#[test]
fn times_outside_the_marks() {
    let clock = fit_film_clock(&even_marks(12, 9.7), 100.0, &FilmSpeedOptions::default()).unwrap();
    assert!(clock.covers(50.0) && !clock.covers(130.0) && !clock.covers(f64::NAN));
    assert!(matches!(clock.time_within_s(130.0), Err(TimingError::OutsideMarks { .. })));
    assert!(clock.time_s(400.0).1 > 4.0 * clock.time_s(100.0).1);
    assert!(clock.frame_at(5.0).is_none() && clock.frame_at(f64::NAN).is_none());
    let constant = FilmClock::constant(1000.0, 0.0).unwrap();
    assert!(constant.frame_at(f64::NAN).is_none() && constant.frame_at(f64::INFINITY).is_none());
}

#[test]
fn skipped_and_doubled_marks_do_not_move_the_clock() {
    let mut noise = Noise::new(5);
    let mut marks = noisy_marks((0..60).map(|k| 3.0 + 9.8 * f64::from(k)), 0.03, &mut noise);
    marks.remove(40);
    marks.remove(40);
    marks.remove(12);
    marks.insert(20, Pulse { frame: marks[20].frame - 2.0, ..marks[20] });
    let clock = fit_film_clock(&marks, 100.0, &FilmSpeedOptions::default()).unwrap();
    assert!((clock.frames_per_s(300.0).0 - 980.0).abs() < 0.5);
    let missing =
        |note: &TimingNote| if let TimingNote::MarksSkipped { missing, .. } = note { *missing } else { 0 };
    assert_eq!(clock.notes().iter().map(missing).sum::<usize>(), 3, "{:?}", clock.notes());
    assert!(clock.notes().iter().any(|note| matches!(note, TimingNote::MarkDoubled { .. })));
}

#[test]
fn a_frequency_that_contradicts_the_record() {
    let record = Some(RateRecord { frames_per_s: 1000.0, relative_u: 0.01 });
    let options = FilmSpeedOptions { record, ..FilmSpeedOptions::default() };
    let clock = fit_film_clock(&even_marks(20, 9.8), 100.0, &options).unwrap();
    assert!(clock.notes().is_empty(), "{:?}", clock.notes());
    let clock = fit_film_clock(&even_marks(20, 9.8), 1000.0, &options).unwrap();
    assert!(matches!(clock.notes(), [TimingNote::ContradictsRecord { .. }]), "{:?}", clock.notes());
    assert!(clock.notes()[0].to_string().contains("ratio 9.8"), "{}", clock.notes()[0]);
}

#[test]
fn clocks_that_nothing_ties() {
    let names = ["side", "overhead", "deck"].map(str::to_owned);
    let seen = |event: &str, clock: &str, time_s| Observation::Instant {
        event: event.to_owned(),
        clock: clock.to_owned(),
        time_s,
        u_s: 1e-4,
    };
    let flash = [seen("flash", "side", 0.1), seen("flash", "overhead", 0.3), seen("switch", "deck", 0.0)];
    let common = common_clock(&names, &flash, &CommonOptions::default()).unwrap();
    assert_eq!(common.unconnected, ["deck"]);
    assert!(common.to_reference_s("deck", 0.0).is_none());
    let (time_s, u_s) = common.to_reference_s("overhead", 0.35).unwrap();
    assert!((time_s - 0.15).abs() < 1e-12 && (u_s - 1e-4 * 2.0_f64.sqrt()).abs() < 1e-12);
    let free = CommonOptions { drift: Drift::Free, ..CommonOptions::default() };
    let common = common_clock(&names, &flash, &free).unwrap();
    assert!(common.notes.iter().any(|note| matches!(note, TimingNote::DriftHeld { .. })));
    let alone = common_clock(&names, &flash[2..], &CommonOptions::default());
    assert!(matches!(alone, Err(TimingError::NotDetermined { .. })));
    let stranger =
        common_clock(&names, &[seen("flash", "roof", 0.0), flash[0].clone()], &CommonOptions::default());
    assert!(matches!(stranger, Err(TimingError::UnknownClock { .. })));
    assert!(matches!(common_clock(&[], &flash, &CommonOptions::default()), Err(TimingError::TooFew { .. })));
    let twice = ["side", "side"].map(str::to_owned);
    assert!(matches!(
        common_clock(&twice, &[], &CommonOptions::default()),
        Err(TimingError::NotDetermined { .. })
    ));
    let faulty = [seen("flash", "side", f64::NAN), flash[1].clone()];
    let faulty = common_clock(&names, &faulty, &CommonOptions::default());
    assert!(matches!(faulty, Err(TimingError::Unusable { index: 0, .. })));
}

#[test]
fn an_observation_that_disagrees_is_named() {
    let names = ["side", "overhead"].map(str::to_owned);
    let mut observations = Vec::new();
    for (event, wrong_s) in [("one", 0.0), ("two", 0.0), ("three", 0.0), ("four", 0.0), ("five", 0.01)] {
        for (clock, time_s) in [("side", 0.1), ("overhead", 0.3 + wrong_s)] {
            let (event, clock) = (event.to_owned(), clock.to_owned());
            observations.push(Observation::Instant { event, clock, time_s, u_s: 1e-4 });
        }
    }
    let common = common_clock(&names, &observations, &CommonOptions::default()).unwrap();
    let named = |note: &TimingNote| note.to_string().contains("\"five\" on clock");
    assert!(common.notes.iter().any(named), "{:?}", common.notes);
}

#[test]
fn a_target_at_constant_speed_tells_no_lag() {
    let times_s: Vec<f64> = (0..200).map(|at| 0.001 * f64::from(at)).collect();
    let run = |noise: &mut Noise| -> Vec<f64> {
        times_s.iter().map(|at| 14.4 * at + noise.normal(0.001)).collect()
    };
    let u = vec![0.001; 200];
    for seed in 0..40 {
        let mut noise = Noise::new(seed);
        let (one, other) = (run(&mut noise), run(&mut noise));
        let first = TimedSeries { times_s: &times_s, values: &one, u: &u };
        let second = TimedSeries { times_s: &times_s, values: &other, u: &u };
        for scale_is_free in [true, false] {
            let options =
                LagOptions { search_s: 0.02, most_u_s: 1.0, scale_is_free, ..LagOptions::default() };
            let refused = lag_between(&first, &second, &options).unwrap_err();
            assert!(matches!(refused, TimingError::NotDetermined { what: "lag", .. }), "{seed}: {refused}");
        }
    }
    let straight = run(&mut Noise::new(1));
    let second = TimedSeries { times_s: &times_s, values: &straight, u: &u };
    let still = TimedSeries { values: &vec![1.0; 200], ..second };
    assert!(matches!(
        lag_between(&still, &second, &LagOptions::default()),
        Err(TimingError::NotDetermined { .. })
    ));
    let empty = TimedSeries { times_s: &[], values: &[], u: &[] };
    assert!(matches!(lag_between(&empty, &second, &LagOptions::default()), Err(TimingError::TooFew { .. })));
}
