//! Tests of the smoother: exact curves, bands against known truth, and the pulses of an impact.

use super::*;
use crate::filters::{ButterworthOptions, CutOff, butterworth};
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use std::f64::consts::PI;

const G: f64 = 9.806_65;

/// Position, speed and acceleration of a haversine pulse with ringing, from rest at t = 0.
fn smooth_pulse(t: f64) -> [f64; 3] {
    // One term of the ringing: A e^(-bt) sin(wt) and its two integrals, as the imaginary part of a complex exponential.
    let (length, delta_v) = (0.1, 15.6);
    let w = 2.0 * PI / length;
    let peak = 2.0 * delta_v / length;
    let s = t.clamp(0.0, length);
    let haversine = if (0.0..length).contains(&t) { 0.5 * peak * (1.0 - (w * t).cos()) } else { 0.0 };
    let speed = 0.5 * peak * (s - (w * s).sin() / w);
    let travel = 0.5 * peak * (0.5 * s * s - (1.0 - (w * s).cos()) / (w * w));
    let after = (t - length).max(0.0);
    let ring = ringing(t);
    [travel + speed * after + ring[0], speed + ring[1], haversine + ring[2]]
}

fn ringing(t: f64) -> [f64; 3] {
    if t <= 0.0 {
        return [0.0; 3];
    }
    let (amplitude, decay, w) = (8.0 * G, 1.0 / 0.03, 2.0 * PI * 50.0);
    let norm = decay * decay + w * w;
    let (sin, cos, e) = ((w * t).sin(), (w * t).cos(), (-decay * t).exp());
    // Integral of e^(-bt) sin wt is (w - e^(-bt) (b sin wt + w cos wt)) / (b² + w²).
    let speed = amplitude * (w - e * (decay * sin + w * cos)) / norm;
    let int_sin = (w - e * (decay * sin + w * cos)) / norm;
    let int_cos = (decay + e * (w * sin - decay * cos)) / norm;
    let travel = amplitude * (w * t - decay * int_sin - w * int_cos) / norm;
    [travel, speed, amplitude * e * sin]
}

/// A car at constant speed that is struck at `onset_s`: steps to 100 m/s² within 2 ms, ripples, and ends after 130 ms.
fn struck_car(t: f64, onset_s: f64, rise_s: f64) -> [f64; 3] {
    let (h, mut state): (f64, _) = (2e-5, [14.4 * t.min(onset_s), 14.4, 0.0]);
    let mut s = 0.0;
    let acceleration = |s: f64| {
        let rise = (s / rise_s).min(1.0);
        let fall = ((0.13 - s) / 0.02).clamp(0.0, 1.0);
        -rise * fall * (100.0 + 25.0 * (2.0 * PI * 22.0 * s).sin())
    };
    while s < t - onset_s {
        let step = h.min(t - onset_s - s);
        let a = acceleration(s + 0.5 * step);
        state[0] += state[1] * step + 0.5 * a * step * step;
        state[1] += a * step;
        s += step;
    }
    state[2] = if t > onset_s { acceleration(t - onset_s) } else { 0.0 };
    state
}

struct Trial {
    inside: [f64; 3],
    rms: [f64; 3],
}

fn trials(
    times: &[f64],
    truth: &[[f64; 3]],
    sigma: f64,
    options: &SmoothOptions,
    n: u64,
    (from_s, to_s): (f64, f64),
) -> Trial {
    let mut total = Trial { inside: [0.0; 3], rms: [0.0; 3] };
    let mut count = 0.0;
    for seed in 0..n {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let noise = Normal::new(0.0, sigma).unwrap();
        let samples: Vec<Sample> =
            truth.iter().map(|state| Some((state[0] + noise.sample(&mut random), sigma * sigma))).collect();
        let found = smooth(times, &samples, options).unwrap();
        for (i, state) in truth.iter().enumerate().filter(|(i, _)| (from_s..=to_s).contains(&times[*i])) {
            count += 1.0;
            for (k, truth) in state.iter().enumerate() {
                let error = found.states[i][k] - truth;
                total.rms[k] += error * error;
                total.inside[k] += f64::from(u8::from(error.abs() <= 1.96 * found.covs[i][k][k].sqrt()));
            }
        }
    }
    Trial { inside: total.inside.map(|x| x / count), rms: total.rms.map(|x| (x / count).sqrt()) }
}

fn grid(from_s: f64, to_s: f64, rate: f64) -> Vec<f64> {
    let n = ((to_s - from_s) * rate).round() as usize;
    (0..=n).map(|i| from_s + i as f64 / rate).collect()
}

/// Error of the second derivative of a zero-phase Butterworth filter.
fn butterworth_rms(
    times: &[f64],
    noisy: &[Vec<f64>],
    truth: &[[f64; 3]],
    cut_hz: f64,
    inner: std::ops::Range<usize>,
) -> f64 {
    let options = ButterworthOptions { cut_off: CutOff::Hz(cut_hz) };
    let mut sum = 0.0;
    for curve in noisy {
        let samples: Vec<Sample> = curve.iter().map(|value| Some((*value, 1.0))).collect();
        let found = butterworth(times, &samples, &options).unwrap();
        sum += inner.clone().map(|i| (found.states[i][2].unwrap().0 - truth[i][2]).powi(2)).sum::<f64>();
    }
    (sum / (noisy.len() * inner.len()) as f64).sqrt()
}

fn pulse_case(rate: f64, sigma: f64, n_trials: u64) -> (Trial, f64) {
    let times = grid(-0.05, 0.2, rate);
    let truth: Vec<[f64; 3]> = times.iter().map(|&t| smooth_pulse(t)).collect();
    let found = trials(&times, &truth, sigma, &SmoothOptions::default(), n_trials, (-0.045, 0.195));
    let noise = Normal::new(0.0, sigma).unwrap();
    let noisy: Vec<Vec<f64>> = (0..10)
        .map(|seed| {
            let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
            truth.iter().map(|state| state[0] + noise.sample(&mut random)).collect()
        })
        .collect();
    let inner = 5..times.len() - 5;
    let cut_offs = (10..75).map(|f| 4.0 * f64::from(f)).filter(|cut_hz| 4.0 * cut_hz < rate);
    let tuned = cut_offs.map(|cut_hz| butterworth_rms(&times, &noisy, &truth, cut_hz, inner.clone()));
    (found, tuned.fold(f64::INFINITY, f64::min) / G)
}

#[test]
fn smooth_pulse_beats_the_best_butterworth_and_its_bands_are_true() {
    // Haversine of 100 ms and 15.6 m/s with 8 g of decaying 50 Hz ringing; the goals are the root mean square errors of
    // a heptic spline with plain cross-validation. Five frames at either end are left out.
    for (rate, sigma, goal_g) in [(1000.0, 4e-5, 0.263), (1000.0, 2e-4, 0.652), (2000.0, 4e-5, 0.221)] {
        let (found, tuned_g) = pulse_case(rate, sigma, 60);
        let rms_g = found.rms[2] / G;
        println!(
            "{rate}/s {sigma} m: {rms_g:.3} g, tuned Butterworth {tuned_g:.3} g, inside {:.3?}",
            found.inside
        );
        assert!(rms_g <= goal_g && rms_g <= tuned_g, "{rms_g} g");
        for (k, least, most) in [(0, 0.93, 0.975), (1, 0.93, 0.98), (2, 0.93, 0.98)] {
            assert!((least..=most).contains(&found.inside[k]), "order {k}: {:.3}", found.inside[k]);
        }
    }
}

#[test]
fn bands_hold_through_contacts_of_any_rise() {
    let times = grid(-0.07, 0.38, 1000.0);
    let cases = [(0.0, 1e-4, 1e-4), (0.0004, 0.002, 1e-4), (0.0, 0.006, 1e-4), (0.0, 0.002, 4e-4)];
    let mut pooled = [0.0; 3];
    for (onset, rise_s, sigma) in cases {
        let truth: Vec<[f64; 3]> = times.iter().map(|&t| struck_car(t, onset, rise_s)).collect();
        let options = SmoothOptions { onsets_s: vec![0.0], ..SmoothOptions::default() };
        let all = trials(&times, &truth, sigma, &options, 40, (-1.0, 1.0));
        let near = trials(&times, &truth, sigma, &options, 40, (-0.003, 0.015));
        println!(
            "rise {rise_s} s: {:.3} g, inside {:.3?}, near {:.3?}",
            all.rms[2] / G,
            all.inside,
            near.inside
        );
        for (k, pooled) in pooled.iter_mut().enumerate() {
            assert!((0.93..=0.985).contains(&all.inside[k]), "order {k}: {:.3}", all.inside[k]);
            assert!((0.9..=0.995).contains(&near.inside[k]), "order {k}: {:.3}", near.inside[k]);
            *pooled += near.inside[k] / 4.0;
        }
    }
    // Forty runs, each with one level before contact: good to 0.02. The page of accuracy has more.
    assert!(pooled.iter().all(|inside| (0.915..=0.985).contains(inside)), "{pooled:.3?}");
}

#[test]
fn contact_that_no_one_announced_is_found_and_its_bands_hold() {
    let times = grid(-0.07, 0.38, 1000.0);
    let truth: Vec<[f64; 3]> = times.iter().map(|&t| struck_car(t, 0.0003, 0.002)).collect();
    let options = SmoothOptions::default();
    let near = trials(&times, &truth, 1e-4, &options, 30, (-0.003, 0.015));
    println!("unannounced: near {:.3?}", near.inside);
    assert!(near.inside.iter().all(|inside| (0.85..=0.995).contains(inside)), "{:.3?}", near.inside);
    let samples: Vec<Sample> = truth.iter().map(|state| Some((state[0], 1e-8))).collect();
    let found = smooth(&times, &samples, &options).unwrap();
    let change = found.changes.iter().min_by(|a, b| a.time_s.abs().total_cmp(&b.time_s.abs())).unwrap();
    assert!(!change.given && (change.time_s - 0.0003).abs() < 3.0 * change.u_s.max(5e-4), "{change:?}");
}

#[test]
fn bands_over_a_gap_widen_and_never_narrow() {
    let times = grid(-0.07, 0.38, 1000.0);
    let samples: Vec<Sample> = times.iter().map(|&t| Some((struck_car(t, 0.0, 0.002)[0], 1e-8))).collect();
    let options = SmoothOptions { onsets_s: vec![0.0], ..SmoothOptions::default() };
    let whole = smooth(&times, &samples, &options).unwrap();
    let fixed = SmoothOptions { smoothness: whole.smoothness(), ..options.clone() };
    let whole = smooth(&times, &samples, &fixed).unwrap();
    for gap in [30..42, 66..78, 100..130] {
        let sparse: Vec<Sample> =
            samples.iter().enumerate().map(|(i, s)| s.filter(|_| !gap.contains(&i))).collect();
        let found = smooth(&times, &sparse, &fixed).unwrap();
        for i in gap.clone() {
            for k in 0..3 {
                assert!(found.covs[i][k][k] >= whole.covs[i][k][k] * (1.0 - 1e-9), "{i} {k}");
            }
        }
        // Within the gap the band is widest inside and at least as wide as beside it.
        let (middle, beside) = (gap.start.midpoint(gap.end), gap.start - 2);
        assert!(found.covs[middle][0][0] > found.covs[beside][0][0]);
    }
}

/// A curve that the model draws exactly, at uneven times with gaps.
fn cubic(kink_s: f64) -> (Vec<f64>, Vec<[f64; 4]>, Vec<Sample>) {
    let times: Vec<f64> = (0..120).map(|i| f64::from(i) * 1e-3 + 2e-4 * f64::from(i % 3)).collect();
    let truth: Vec<[f64; 4]> = times
        .iter()
        .map(|&t| {
            let s = (t - kink_s).max(0.0);
            [3.0 + 14.0 * t - 50.0 * s * s, 14.0 - 100.0 * s, if s > 0.0 { -100.0 } else { 0.0 }, 0.0]
        })
        .collect();
    let sample = |(i, state): (usize, &[f64; 4])| (!(40..46).contains(&i)).then_some((state[0], 1e-8));
    let samples = truth.iter().enumerate().map(sample).collect();
    (times, truth, samples)
}

#[test]
fn an_exact_kink_comes_back_at_uneven_times_with_a_gap() {
    for offset_s in [0.0, 1e-6, 3e-4, 9.9e-4] {
        let kink_s = 0.06 + offset_s;
        let (times, truth, samples) = cubic(kink_s);
        let options = SmoothOptions { onsets_s: vec![kink_s], onset_u_s: 1e-4, ..SmoothOptions::default() };
        let found = smooth(&times, &samples, &options).unwrap();
        for (state, truth) in found.states.iter().zip(&truth) {
            assert!(
                (state[0] - truth[0]).abs() < 1e-5 && (state[1] - truth[1]).abs() < 0.02,
                "{state:?} {truth:?}"
            );
        }
        assert!((found.states[100][2] + 100.0).abs() < 0.5);
    }
}

#[test]
fn between_frames_the_curve_is_one_curve() {
    let (times, _, samples) = cubic(0.06);
    // A mixture's edges and the kinks of its models are left to the other tests.
    let rises_s = Vec::new();
    let options = SmoothOptions { onsets_s: vec![0.06], rises_s, ..SmoothOptions::default() };
    let found = smooth(&times, &samples, &options).unwrap();
    for i in (1..times.len() - 1).filter(|i| !(55..65).contains(i)) {
        let (state, cov) = found.at(times[i]).unwrap();
        assert!(
            (state[0] - found.states[i][0]).abs() < 1e-12 && (cov[2][2] - found.covs[i][2][2]).abs() < 1e-9
        );
        let h = 1e-5;
        let (ahead, behind) = (found.at(times[i] + h).unwrap().0, found.at(times[i] - h).unwrap().0);
        for k in 0..3 {
            let slope = (ahead[k] - behind[k]) / (2.0 * h);
            assert!(
                (slope - state[k + 1]).abs() < 1e-3 * (1.0 + state[k + 1].abs()),
                "{k}: {slope} {state:?}"
            );
        }
    }
    assert!(found.at(times[0] - 1e-3).is_none() && found.at(1.0).is_none());
}

#[test]
fn a_fixed_smoothness_draws_the_same_curve() {
    let (times, _, samples) = cubic(0.0603);
    let options = SmoothOptions { onsets_s: vec![0.0603], ..SmoothOptions::default() };
    let first = smooth(&times, &samples, &options).unwrap();
    let again = SmoothOptions { smoothness: first.smoothness(), ..options };
    let second = smooth(&times, &samples, &again).unwrap();
    for (a, b) in first.states.iter().zip(&second.states) {
        assert!((a[0] - b[0]).abs() < 1e-9 && (a[2] - b[2]).abs() < 1e-3);
    }
}

#[test]
fn unusable_curves_are_refused_with_a_reason() {
    let times: Vec<f64> = (0..20).map(f64::from).collect();
    let good: Vec<Sample> = times.iter().map(|&t| Some((t, 1.0))).collect();
    let options = SmoothOptions::default();
    assert!(smooth(&times, &good, &options).is_ok());
    let few: Vec<Sample> = good.iter().enumerate().map(|(i, s)| s.filter(|_| i < 7)).collect();
    assert!(matches!(smooth(&times, &few, &options), Err(MotionFailure::TooFewMarks { found: 7, .. })));
    let mut odd = good.clone();
    odd[3] = Some((f64::NAN, 1.0));
    assert_eq!(smooth(&times, &odd, &options).unwrap_err(), MotionFailure::UnusableMark { index: 3 });
    odd[3] = Some((1.0, 0.0));
    assert!(smooth(&times, &odd, &options).is_err());
    assert!(smooth(&times[..5], &good, &options).is_err());
    let fixed = SmoothOptions {
        smoothness: Smoothness::Fixed(FixedSmoothness { q: Vec::new(), changes: Vec::new() }),
        ..options.clone()
    };
    assert!(matches!(smooth(&times, &good, &fixed), Err(MotionFailure::Setting { .. })));
    let narrow = SmoothOptions { window_marks: Some(2), ..options };
    assert!(smooth(&times, &good, &narrow).is_err());
}

#[test]
fn degree_five_is_close_behind_and_its_bands_hold() {
    let times = grid(-0.05, 0.2, 1000.0);
    let truth: Vec<[f64; 3]> = times.iter().map(|&t| smooth_pulse(t)).collect();
    let options = SmoothOptions { degree: Degree::Five, ..SmoothOptions::default() };
    let found = trials(&times, &truth, 4e-5, &options, 20, (-0.045, 0.195));
    println!("degree 5: {:.3} g, inside {:.3?}", found.rms[2] / G, found.inside);
    // Its own goal: plain cross-validation of a quintic spline.
    assert!(found.rms[2] / G <= 0.3, "{:.3} g", found.rms[2] / G);
    assert!(found.inside.iter().all(|inside| (0.91..=0.995).contains(inside)), "{:.3?}", found.inside);
    let samples: Vec<Sample> = truth.iter().map(|state| Some((state[0], 1.6e-9))).collect();
    let curve = smooth(&times, &samples, &options).unwrap();
    assert!(curve.degree_number() == 5 && curve.states.iter().all(|state| state[3] == 0.0));
    let again = SmoothOptions { smoothness: curve.smoothness(), ..options };
    let second = smooth(&times, &samples, &again).unwrap();
    assert!((curve.states[100][2] - second.states[100][2]).abs() < 1e-6);
}

#[test]
fn both_choices_of_smoothness_agree_where_the_noise_is_as_stated() {
    let times = grid(-0.05, 0.2, 1000.0);
    let noise = Normal::new(0.0, 1e-4).unwrap();
    let mut random = Xoshiro256PlusPlus::seed_from_u64(3);
    let samples: Vec<Sample> =
        times.iter().map(|&t| Some((smooth_pulse(t)[0] + noise.sample(&mut random), 1e-8))).collect();
    let both = compare_smoothness(&times, &samples, &SmoothOptions::default()).unwrap();
    assert!(both.log_strength_ratio.abs() < 2.0, "{}", both.log_strength_ratio);
    assert!(both.relative_difference.iter().all(|difference| *difference < 1.0), "{both:?}");
    assert!((both.cross_validated.noise_scale - 1.0).abs() < 0.15);
}

#[test]
fn a_body_at_rest_has_no_motion_and_a_narrow_band() {
    let times = grid(0.0, 0.3, 1000.0);
    let still: Vec<Sample> = times.iter().map(|_| Some((0.7, 1e-8))).collect();
    for smoothness in [Smoothness::Gcv, Smoothness::KnownNoise] {
        let options = SmoothOptions { smoothness, ..SmoothOptions::default() };
        let found = smooth(&times, &still, &options).unwrap();
        assert!(found.changes.is_empty());
        for (state, cov) in found.states.iter().zip(&found.covs) {
            assert!((state[0] - 0.7).abs() < 1e-9 && state[1].abs() < 1e-6 && cov[2][2].is_finite());
        }
    }
}

#[test]
fn a_gap_over_contact_leaves_wide_bands_and_repeated_times_a_reason() {
    let mut times = grid(-0.07, 0.38, 1000.0);
    let truth: Vec<[f64; 3]> = times.iter().map(|&t| struck_car(t, 0.0, 0.004)).collect();
    let gap = 64..82;
    let samples: Vec<Sample> = truth
        .iter()
        .enumerate()
        .map(|(i, state)| (!gap.contains(&i)).then_some((state[0] + 1e-5 * f64::from(i as u32 % 7), 1e-8)))
        .collect();
    let smoothness = Smoothness::KnownNoise;
    let options = SmoothOptions { onsets_s: vec![0.0], smoothness, ..SmoothOptions::default() };
    let found = smooth(&times, &samples, &options).unwrap();
    for i in gap.clone() {
        let apart = (found.states[i][2] - truth[i][2]).abs();
        assert!(apart < 4.0 * found.covs[i][2][2].sqrt(), "{i}: {apart} {}", found.covs[i][2][2].sqrt());
        assert!(found.covs[i][2][2] > found.covs[200][2][2]);
    }
    times[100] = times[99];
    let refused = smooth(&times, &samples, &SmoothOptions::default()).unwrap_err();
    assert_eq!(refused, MotionFailure::TimesRunBackwards { index: 100 });
}
