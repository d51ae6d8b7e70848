//! Severity index against closed forms (means of a half-sine) and values computed from the stated formulas.

use super::*;
use std::f64::consts::PI;

const G: f64 = STANDARD_GRAVITY_M_S2;
const STEP_S: f64 = 1e-4;

/// A half-sine in the middle of 1.2 s, m/s².
fn half_sine(level_g: f64, length_s: f64) -> Vec<f64> {
    let at = |i: i32| {
        let t = f64::from(i) * STEP_S - 0.5;
        if (0.0..=length_s).contains(&t) { level_g * G * (PI * t / length_s).sin() } else { 0.0 }
    };
    (0..12_000).map(at).collect()
}

fn square(level_g: f64, length_s: f64) -> Vec<f64> {
    let at = |i: i32| {
        let t = f64::from(i) * STEP_S - 0.5;
        if (0.0..=length_s).contains(&t) { level_g * G } else { 0.0 }
    };
    (0..14_000).map(at).collect()
}

fn along(pulse: &[f64], rule: SeverityRule) -> SeverityIndex {
    let zero = vec![0.0; pulse.len()];
    severity_index(STEP_S, [pulse, &zero, &zero], rule).unwrap()
}

#[test]
fn means_of_half_sines_follow_the_closed_form() {
    // A (2T/(πw)) sin(πw/(2T)) for a window w inside a half-sine of length T.
    for (pulse, mean_g, asi) in [
        (half_sine(20.0, 0.1), 18.006_33, 1.500_53),
        (half_sine(15.0, 0.15), 14.323_94, 1.193_66),
        (square(12.0, 0.2), 12.0, 1.0),
    ] {
        let found = along(&pulse, SeverityRule::Mean);
        assert!((found.acceleration_g[0] - mean_g).abs() < 1e-4, "{found:?}");
        assert!((found.asi - asi).abs() < 1e-5, "{found:?}");
    }
    let found = along(&half_sine(20.0, 0.1), SeverityRule::Mean);
    assert!((found.time_s - 0.55).abs() < 2.0 * STEP_S, "{found:?}");
}

#[test]
fn three_axes_in_phase_add_up() {
    let [x, y, z] = [12.0, 6.0, 3.0].map(|level| half_sine(level, 0.1));
    let found = severity_index(STEP_S, [&x, &y, &z], SeverityRule::Mean).unwrap();
    assert!((found.asi - 1.115_25).abs() < 1e-5, "{found:?}");
    let [x, y, z] = [6.0, 4.5, 5.0].map(|level| vec![level * G; 2000]);
    let found = severity_index(STEP_S, [&x, &y, &z], SeverityRule::Mean).unwrap();
    assert!((found.asi - 0.866_03).abs() < 1e-5, "{found:?}");
}

#[test]
fn the_low_pass_of_thirteen_hertz() {
    for (pulse, one_pass_g, pair_g) in [
        (half_sine(20.0, 0.1), 19.1789, 19.7516),
        (half_sine(15.0, 0.15), 14.9522, 14.9870),
        (square(12.0, 0.2), 12.4027, 12.4021),
    ] {
        let one = along(&pulse, SeverityRule::LowPass { corner_hz: 13.0 });
        // 3 dB down for the pair: (√2 − 1)^(1/4) = 0.8022 of the corner of one pass.
        let pair = along(&pulse, SeverityRule::LowPass { corner_hz: 13.0 / 0.802_2 });
        assert!((one.acceleration_g[0] - one_pass_g).abs() < 2e-3, "{one:?}");
        assert!((pair.acceleration_g[0] - pair_g).abs() < 2e-3, "{pair:?}");
    }
}

#[test]
fn what_cannot_be_smoothed_is_refused() {
    let short = vec![0.0; 100];
    assert!(severity_index(STEP_S, [&short, &short, &short], SeverityRule::Mean).is_err());
    let wrong = SeverityRule::LowPass { corner_hz: 6000.0 };
    assert!(severity_index(STEP_S, [&short, &short, &short], wrong).is_err());
    assert!(severity_index(STEP_S, [&short, &short[1..], &short], SeverityRule::Mean).is_err());
}
