//! Tests of the onset: time and speed of made-up kinks, their bands, and refusals.

use super::*;
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

const SIGMA_M: f64 = 2e-4;

/// Constant speed to 2.3 ms, then a deceleration that rises over `rise_s` to 110 m/s².
fn struck(rise_s: f64, seed: u64) -> (Vec<f64>, Vec<Sample>) {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let noise = Normal::new(0.0, SIGMA_M).unwrap();
    let times: Vec<f64> = (0..160).map(|i| -0.07 + f64::from(i) * 1e-3).collect();
    let place = |t: f64| {
        let s = (t - 0.0023).max(0.0);
        let rising = s.min(rise_s);
        let lost = if rise_s > 0.0 { 110.0 * rising.powi(3) / (6.0 * rise_s) } else { 0.0 };
        let (at_rise, after) = (110.0 * 0.5 * rise_s, (s - rise_s).max(0.0));
        14.4 * t - lost - at_rise * after - 55.0 * after * after
    };
    let samples =
        times.iter().map(|&t| Some((place(t) + noise.sample(&mut random), SIGMA_M * SIGMA_M))).collect();
    (times, samples)
}

fn inside(rise_s: f64, trials: u64) -> (f64, f64, f64) {
    let (mut time_in, mut speed_in, mut squares) = (0.0, 0.0, 0.0);
    for seed in 0..trials {
        let (times, samples) = struck(rise_s, seed);
        let found = onset(&times, &samples, &OnsetOptions::default()).unwrap();
        time_in += f64::from(u8::from(found.time.contains_95(Seconds::from_s(0.0023))));
        speed_in += f64::from(u8::from(found.speed_before.contains_95(Speed::from_m_s(14.4))));
        squares += (found.time.value.as_s() - 0.0023).powi(2);
    }
    let n = trials as f64;
    (time_in / n, speed_in / n, (squares / n).sqrt())
}

#[test]
fn time_and_speed_lie_within_their_bands() {
    for rise_s in [0.0, 0.001, 0.002, 0.004, 0.006, 0.010, 0.020, 0.030] {
        let (time_in, speed_in, rms_s) = inside(rise_s, 300);
        println!("rise {rise_s}: time {time_in:.3}, speed {speed_in:.3}, rms {rms_s:.6} s");
        assert!(speed_in > 0.93, "speed {speed_in}");
        assert!(time_in > 0.93, "time {time_in}");
        assert!(rms_s < 0.0015, "rms {rms_s}");
    }
}

#[test]
fn a_run_up_without_kink_is_refused() {
    let (times, samples) = struck(0.002, 1);
    let before: Vec<Sample> = samples[..70].to_vec();
    assert_eq!(onset(&times[..70], &before, &OnsetOptions::default()).unwrap_err(), MotionFailure::NoOnset);
    assert!(onset(&times[..5], &before[..5], &OnsetOptions::default()).is_err());
}

#[test]
fn a_gap_at_contact_is_bridged() {
    let (times, mut samples) = struck(0.002, 4);
    samples[71..74].fill(None);
    let found = onset(&times, &samples, &OnsetOptions::default()).unwrap();
    assert!((found.time.value.as_s() - 0.0023).abs() < 0.002, "{:?}", found.time);
}

#[test]
fn a_slightly_other_film_speed_takes_no_frame_in_or_out() {
    let (times, samples) = struck(0.003, 5);
    let found = |stretch: f64| {
        let times: Vec<f64> = times.iter().map(|t| t * stretch).collect();
        onset(&times, &samples, &OnsetOptions::default()).unwrap()
    };
    let (stated, n) = (found(1.0).time.value.as_s(), found(1.0).n_marks);
    for stretch in [1.0 - 1e-5, 1.0 + 1e-5] {
        let other = found(stretch);
        assert_eq!(other.n_marks, n);
        assert!((other.time.value.as_s() - stated).abs() < 1e-6, "{} {stated}", other.time.value.as_s());
    }
}
