//! Rehearsed pairs with exact truth: coverage, planted faults, sound pairs, refusals.

use super::*;
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use std::f64::consts::PI;
use std::path::PathBuf;

/// What is wrong with the judged one.
#[derive(Clone, Copy)]
struct Planted {
    gain: f64,
    offset: f64,
    lag_s: f64,
    step: f64,
}

const SOUND: Planted = Planted { gain: 1.0, offset: 0.0, lag_s: 0.0, step: 0.0 };

/// 18 g half-sine of 110 ms with a ripple, m/s².
fn pulse(t: f64) -> f64 {
    if (0.0..0.11).contains(&t) {
        -176.0 * (PI * t / 0.11).sin() + 40.0 * (2.0 * PI * t / 0.022).sin() * (PI * t / 0.11).sin()
    } else {
        0.0
    }
}

fn record(planted: Planted, step_s: f64, noise: f64, random: &mut Xoshiro256PlusPlus) -> Channel {
    let n = (0.6 / step_s) as usize;
    let value = |index: usize| {
        let t = -0.15 + index as f64 * step_s - planted.lag_s;
        let moved = if t > 0.06 { planted.step } else { 0.0 };
        let chance: f64 = StandardNormal.sample(random);
        planted.gain * pulse(t) + planted.offset + moved + noise * chance
    };
    let values: Vec<f64> = (0..n).map(value).collect();
    Channel {
        code: "10CVEHCG0000ACXP".into(),
        unit: "m/s2".into(),
        start_s: -0.15,
        step_s,
        values,
        file: PathBuf::new(),
        comments: Vec::new(),
        steps: Vec::new(),
    }
}

fn compared(planted: Planted, seed: u64) -> Pair {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let reference = record(SOUND, 1e-4, 8.0, &mut random);
    let judged = record(planted, 8e-5, 5.0, &mut random);
    pair(&reference, &judged, 0.0, &PairOptions::default()).unwrap()
}

#[test]
fn bands_hold_the_truth_and_sound_pairs_are_left_alone() {
    let (mut inside, mut alarms, n) = ([0, 0, 0], 0, 500);
    for seed in 0..n {
        let planted = Planted { gain: 1.007, offset: 0.3, lag_s: 0.000_37, step: 0.0 };
        let found = compared(planted, seed);
        let figures = [found.gain.unwrap(), found.offset, found.lag_s.unwrap()];
        for (k, truth) in [planted.gain, planted.offset, planted.lag_s].into_iter().enumerate() {
            inside[k] += u32::from((figures[k].value - truth).abs() <= 1.96 * figures[k].u);
        }
        alarms += u32::from(!found.differs.is_empty());
    }
    let shares = inside.map(|inside| f64::from(inside) / n as f64);
    println!("gain, offset, lag inside {shares:?}, alarms {alarms} of {n}");
    assert!(shares.iter().all(|share| (0.925..=0.975).contains(share)), "{shares:?}");
    assert!(alarms <= 25, "{alarms}");
}

#[test]
fn planted_faults_are_named_first() {
    let cases = [
        (Planted { gain: 1.06, ..SOUND }, Fault::Gain),
        (Planted { gain: -1.0, ..SOUND }, Fault::Polarity),
        (Planted { offset: 3.0, ..SOUND }, Fault::Offset),
        (Planted { lag_s: 0.003, ..SOUND }, Fault::Delay),
        (Planted { step: -5.0, ..SOUND }, Fault::BaselineStep),
    ];
    for (planted, fault) in cases {
        for seed in 0..20 {
            let found = compared(planted, seed);
            assert_eq!(found.differs.first().map(|it| it.0), Some(fault), "{found:?}");
            assert!(found.verdict.contains(fault.word()), "{found:?}");
        }
    }
}

#[test]
fn another_motion_is_told_and_rest_gives_the_offset_alone() {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(5);
    let reference = record(SOUND, 1e-4, 8.0, &mut random);
    let mut other = record(SOUND, 1e-4, 8.0, &mut random);
    for (index, value) in other.values.iter_mut().enumerate().skip(1500) {
        *value += 60.0 * ((index - 1500) as f64 / 137.0).sin() - pulse((index - 1500) as f64 * 1e-4);
    }
    let found = pair(&reference, &other, 0.0, &PairOptions::default()).unwrap();
    assert_eq!(found.differs[0].0, Fault::WrongAxis, "{found:?}");
    let still = Planted { gain: 0.0, ..SOUND };
    let (a, b) = (
        record(still, 1e-4, 2.0, &mut random),
        record(Planted { offset: 2.0, ..still }, 1e-4, 2.0, &mut random),
    );
    let found = pair(&a, &b, 0.0, &PairOptions::default()).unwrap();
    assert!(found.gain.is_none() && found.lag_s.is_none(), "{found:?}");
    assert!((found.offset.value - 2.0).abs() < 4.0 * found.offset.u && found.offset.u < 0.1, "{found:?}");
    assert_eq!(found.differs[0].0, Fault::Offset);
}

#[test]
fn what_cannot_be_compared_is_refused() {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(5);
    let one = record(SOUND, 1e-4, 1.0, &mut random);
    let late = Channel { start_s: 3.0, ..one.clone() };
    assert!(pair(&one, &late, 0.0, &PairOptions::default()).unwrap_err().to_string().contains("overlap"));
    let rate = Channel { unit: "rad/s".into(), ..one.clone() };
    assert!(pair(&one, &rate, 0.0, &PairOptions::default()).is_err());
    let odd = PairOptions { block_s: 0.0, ..PairOptions::default() };
    assert!(pair(&one, &one, 0.0, &odd).is_err());
}
