//! Tests of the filters: gains, noise bands, lines, refusals.

use super::*;
use crate::MotionFailure;
use crate::limits::slope_gain;
use crate::samples::Sample;
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use std::f64::consts::PI;

fn curve(n: u32, of: impl Fn(f64) -> f64, variance: f64) -> (Vec<f64>, Vec<Sample>) {
    let times: Vec<f64> = (0..n).map(|i| f64::from(i) * 1e-3).collect();
    let samples = times.iter().map(|&t| Some((of(t), variance))).collect();
    (times, samples)
}

#[test]
fn cut_off_is_where_the_gain_says() {
    // By definition: both passes together let 1/√2 of the amplitude through at the cut-off, and no phase.
    for hz in [20.0, 60.0, 100.0] {
        let (times, samples) = curve(1201, |t| (2.0 * PI * hz * t).sin(), 1.0);
        let found = butterworth(&times, &samples, &ButterworthOptions { cut_off: CutOff::Hz(hz) }).unwrap();
        for (i, time) in times.iter().enumerate().take(700).skip(500) {
            let truth = (2.0 * PI * hz * time).sin() / std::f64::consts::SQRT_2;
            assert!((found.states[i][0].unwrap().0 - truth).abs() < 1e-6);
        }
    }
}

#[test]
fn a_line_stays_a_line_to_its_ends() {
    let (times, samples) = curve(200, |t| 3.0 + 14.4 * t, 1.0);
    for hz in [10.0, 60.0] {
        let found = butterworth(&times, &samples, &ButterworthOptions { cut_off: CutOff::Hz(hz) }).unwrap();
        for (state, time) in found.states.iter().zip(&times) {
            assert!((state[0].unwrap().0 - 3.0 - 14.4 * time).abs() < 1e-5, "{hz} {time}");
        }
        assert!(found.states[0][1].is_none() && found.states[1][1].is_some());
    }
}

#[test]
fn slopes_flatten_as_the_closed_form_says() {
    // Computed from the stated formula: gains of the slope by a line at 1000/s.
    for (half_width, gains) in [
        (2, [0.997_765, 0.980_002, 0.921_623]),
        (4, [0.992_257, 0.931_817, 0.746_596]),
        (10, [0.957_367, 0.660_696, 0.097_016]),
    ] {
        for (hz, gain) in [10.0, 30.0, 60.0].into_iter().zip(gains) {
            let w = 2.0 * PI * hz;
            let (times, samples) = curve(101, |t| (w * (t - 0.05)).sin() / w, 1.0);
            let options = SavitzkyGolayOptions { half_width, degree: 2 };
            let found = savitzky_golay(&times, &samples, &options).unwrap();
            let rate = found.states[50][1].unwrap().0;
            let closed = slope_gain(hz, 1e-3, u32::try_from(half_width).unwrap());
            assert!((rate - gain).abs() < 1e-6 && (rate - closed).abs() < 1e-12, "{half_width} {hz}: {rate}");
        }
    }
}

#[test]
fn stated_noise_is_that_of_repetitions() {
    let (times, _) = curve(160, |_| 0.0, 1.0);
    let noise = Normal::new(0.0, 2.0).unwrap();
    let places = [0, 3, 20, 80, 157];
    let mut sums = [[[0.0; 3]; 5]; 2];
    let mut stated = [[[0.0; 3]; 5]; 2];
    let n = 600;
    for seed in 0..n {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let samples: Vec<Sample> = times.iter().map(|_| Some((noise.sample(&mut random), 4.0))).collect();
        let found = [
            butterworth(&times, &samples, &ButterworthOptions { cut_off: CutOff::Hz(80.0) }).unwrap(),
            savitzky_golay(&times, &samples, &SavitzkyGolayOptions { half_width: 6, degree: 4 }).unwrap(),
        ];
        for (filter, found) in found.iter().enumerate() {
            for (place, &i) in places.iter().enumerate() {
                for order in 0..3 {
                    if let Some((value, u)) = found.states[i][order] {
                        sums[filter][place][order] += value * value / n as f64;
                        stated[filter][place][order] = u;
                    }
                }
            }
        }
    }
    for (sum, u) in sums.iter().flatten().flatten().zip(stated.iter().flatten().flatten()) {
        // Standard deviation of 600 draws: 3 %; five of them.
        assert!(*u == 0.0 || (sum.sqrt() / u - 1.0).abs() < 0.15, "{} {u}", sum.sqrt());
    }
}

#[test]
fn residuals_tell_the_noise_and_a_cut_off_above_the_signal() {
    let noise = Normal::new(0.0, 1e-4).unwrap();
    let mut random = Xoshiro256PlusPlus::seed_from_u64(4);
    let (times, mut samples) = curve(400, |t| 0.05 * (2.0 * PI * 8.0 * t).sin(), 1e-8);
    samples.iter_mut().flatten().for_each(|sample| sample.0 += noise.sample(&mut random));
    let found = residual_cut_off(&times, &samples, &ResidualOptions::default()).unwrap();
    assert!((found.noise - 1e-4).abs() < 1.5e-5, "{}", found.noise);
    assert!((10.0..60.0).contains(&found.cut_off_hz), "{}", found.cut_off_hz);
}

#[test]
fn gaps_uneven_times_and_settings_are_refused() {
    let (mut times, mut samples) = curve(60, |t| t, 1.0);
    let low = |hz| ButterworthOptions { cut_off: CutOff::Hz(hz) };
    let golay = SavitzkyGolayOptions { half_width: 3, degree: 3 };
    for hz in [0.0, f64::NAN, 250.0] {
        assert!(matches!(butterworth(&times, &samples, &low(hz)), Err(MotionFailure::Setting { .. })));
    }
    for (half_width, degree) in [(0, 1), (2, 6), (1, 3), (3, 0)] {
        let options = SavitzkyGolayOptions { half_width, degree };
        assert!(matches!(savitzky_golay(&times, &samples, &options), Err(MotionFailure::Setting { .. })));
    }
    assert!(butterworth(&times[..5], &samples[..5], &low(50.0)).is_err());
    samples[20] = None;
    assert!(matches!(butterworth(&times, &samples, &low(50.0)), Err(MotionFailure::Degenerate { .. })));
    assert!(matches!(savitzky_golay(&times, &samples, &golay), Err(MotionFailure::Degenerate { .. })));
    samples[20] = samples[19];
    times[20] += 3e-4;
    assert!(matches!(butterworth(&times, &samples, &low(50.0)), Err(MotionFailure::Degenerate { .. })));
    times[20] = times[19];
    assert!(matches!(savitzky_golay(&times, &samples, &golay), Err(MotionFailure::TimesRunBackwards { .. })));
}
