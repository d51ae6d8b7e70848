//! Rehearsed car pulses: planted faults are named, sound channels are left alone, 95 % intervals hold.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at once and show its figures, and its counts are small"
)]

mod fusing;
mod properties;
mod refusals;
mod scene;

use filmgauge_crosscheck::{Crosscheck, CrosscheckOptions, Fault, Measured, SensedAxis, crosscheck};
use scene::{Doubts, Planted, SOUND, Scene, USUAL};

const STANDARD_GRAVITY: f64 = 9.806_65;

fn check(scene: &Scene, axis: SensedAxis, planted: Planted, doubts: Doubts, seed: u64) -> Crosscheck {
    let (film, channel) = scene.run(planted, doubts, seed);
    crosscheck(&film, &channel, axis, &CrosscheckOptions::default()).unwrap()
}

#[derive(Default)]
struct Coverage {
    inside: u32,
    of: u32,
}

impl Coverage {
    fn count(&mut self, measured: Measured, truth: f64) {
        self.of += 1;
        self.inside += u32::from((measured.value - truth).abs() <= 1.96 * measured.u);
    }

    fn share(&self) -> f64 {
        f64::from(self.inside) / f64::from(self.of)
    }
}

const FAULTS: [(Option<Fault>, Planted, u64); 7] = [
    (None, SOUND, 40),
    (Some(Fault::Gain), Planted { gain: 0.92, ..SOUND }, 20),
    (Some(Fault::Gain), Planted { gain: 1.08, ..SOUND }, 20),
    (Some(Fault::Offset), Planted { offset_m_s2: 0.3 * STANDARD_GRAVITY, ..SOUND }, 20),
    (Some(Fault::Polarity), Planted { gain: -1.0, ..SOUND }, 20),
    (Some(Fault::Delay), Planted { lag_s: 0.003, ..SOUND }, 20),
    (Some(Fault::Delay), Planted { lag_s: -0.003, ..SOUND }, 20),
];

/// Right fault named first in at least 95 %, false alarms in at most 5 %, 95 % intervals hold.
fn judge(axis: SensedAxis, doubts: Doubts, first_seed: u64) {
    let scene = Scene::new(axis, 1.0);
    let mut cover = [Coverage::default(), Coverage::default(), Coverage::default()];
    let mut agreement = Vec::new();
    let mut seed = first_seed;
    for (fault, planted, n_runs) in FAULTS {
        let mut right = 0;
        for _ in 0..n_runs {
            seed += 1;
            let found = check(&scene, axis, planted, doubts, seed);
            let named = found.suspected.first().map(|suspected| suspected.fault);
            right += u64::from(named == fault && found.suspected.len() <= 1);
            cover[0].count(found.gain.unwrap(), planted.gain);
            cover[1].count(found.offset_m_s2, planted.offset_m_s2);
            cover[2].count(found.lag_s.unwrap(), planted.lag_s);
            agreement.push(found.agreement);
        }
        println!("{axis:?} {fault:?} {planted:?}: {right} of {n_runs} right");
        assert!(right as f64 >= 0.95 * n_runs as f64, "{axis:?} {fault:?}: {right} of {n_runs}");
    }
    let shares = cover.map(|cover| cover.share());
    println!("{axis:?}: gain, offset, lag inside 95 %: {shares:.3?}");
    assert!(shares.iter().all(|share| (0.90..=0.99).contains(share)), "{axis:?}: {shares:?}");
    let mean = agreement.iter().sum::<f64>() / agreement.len() as f64;
    assert!((mean - 1.0).abs() < 0.05, "agreement {mean}");
}

#[test]
fn faults_along_the_path_are_named_and_intervals_hold() {
    judge(SensedAxis::X, USUAL, 1000);
}

#[test]
fn faults_across_the_path_are_named_and_intervals_hold() {
    judge(SensedAxis::Z, Doubts { film_m: 0.0002, sensor_m_s2: 0.1, ..USUAL }, 2000);
}

#[test]
fn without_noise_the_planted_values_come_back() {
    let quiet = Doubts { film_m: 1e-6, sensor_m_s2: 0.0, scale: 0.0, time_s: 0.0 };
    let planted = Planted { gain: 1.037, offset_m_s2: -1.7, lag_s: 0.001_234 };
    for axis in [SensedAxis::X, SensedAxis::Z] {
        let found = check(&Scene::new(axis, 1.0), axis, planted, quiet, 1);
        assert!((found.gain.unwrap().value - planted.gain).abs() < 2e-4, "{axis:?} {found:?}");
        assert!((found.offset_m_s2.value - planted.offset_m_s2).abs() < 5e-3, "{axis:?} {found:?}");
        assert!((found.lag_s.unwrap().value - planted.lag_s).abs() < 5e-6, "{axis:?} {found:?}");
    }
}

#[test]
fn two_faults_at_once_are_both_named() {
    let planted = Planted { gain: -1.1, lag_s: 0.004, ..SOUND };
    let found = check(&Scene::new(SensedAxis::X, 1.0), SensedAxis::X, planted, USUAL, 5);
    let named: Vec<Fault> = found.suspected.iter().map(|suspected| suspected.fault).collect();
    assert_eq!(named, [Fault::Polarity, Fault::Delay, Fault::Gain], "{found:?}");
    assert!(found.verdict.starts_with("does not agree: polarity reversed, delay 4."), "{}", found.verdict);
}

#[test]
fn a_vertical_channel_on_a_level_run_is_not_judged_for_gain_and_lag() {
    let scene = Scene::new(SensedAxis::Z, 0.004);
    for run in 0..20 {
        let found = check(&scene, SensedAxis::Z, SOUND, USUAL, 3000 + run);
        assert!(found.suspected.is_empty(), "{found:?}");
        assert!(found.gain.is_none() && found.lag_s.is_none());
        assert_eq!(found.verdict, "offset agrees; too little motion to judge gain and lag");
    }
    let offset = Planted { offset_m_s2: 3.0, ..SOUND };
    let found = check(&scene, SensedAxis::Z, offset, USUAL, 3100);
    assert_eq!(found.suspected[0].fault, Fault::Offset);
    assert!((found.offset_m_s2.value - 3.0).abs() < 3.0 * found.offset_m_s2.u, "{found:?}");
}

#[test]
fn a_channel_zeroed_at_rest_is_taken_as_such() {
    let scene = Scene::new(SensedAxis::Z, 1.0);
    let (film, mut channel) = scene.run(SOUND, USUAL, 4000);
    let rest = channel.values[..500].iter().sum::<f64>() / 500.0;
    channel.values.iter_mut().for_each(|value| *value -= rest);
    let zeroed = CrosscheckOptions { zeroed_at_rest: true, ..CrosscheckOptions::default() };
    let found = crosscheck(&film, &channel, SensedAxis::Z, &zeroed).unwrap();
    assert!(found.suspected.is_empty(), "{found:?}");
    let kept = crosscheck(&film, &channel, SensedAxis::Z, &CrosscheckOptions::default()).unwrap();
    assert_eq!(kept.suspected[0].fault, Fault::Offset);
}

#[test]
fn a_gain_within_the_scale_is_not_separable() {
    let doubts = Doubts { scale: 0.0, ..USUAL };
    let scene = Scene::new(SensedAxis::X, 1.0);
    let (mut film, channel) = scene.run(Planted { gain: 1.03, ..SOUND }, doubts, 6);
    film.gain_relative_u = 0.02;
    let found = crosscheck(&film, &channel, SensedAxis::X, &CrosscheckOptions::default()).unwrap();
    assert!(found.suspected.is_empty(), "{found:?}");
    assert!(
        found.verdict.contains("gain deviation of 3.0 % is not separable from the film's scale (± 4.0 %)"),
        "{}",
        found.verdict
    );
}

#[test]
fn the_same_input_gives_the_same_outcome() {
    let scene = Scene::new(SensedAxis::X, 1.0);
    let one = check(&scene, SensedAxis::X, SOUND, USUAL, 9);
    assert_eq!(one, check(&scene, SensedAxis::X, SOUND, USUAL, 9));
}
