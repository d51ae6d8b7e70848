//! Tests of the smoother: exact curves, bands against known truth, and the pulses of an impact.

use super::*;
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
fn struck_car(t: f64, onset_s: f64) -> [f64; 3] {
    let (h, mut state): (f64, _) = (2e-5, [14.4 * t.min(onset_s), 14.4, 0.0]);
    let mut s = 0.0;
    let acceleration = |s: f64| {
        let rise = (s / 0.002).min(1.0);
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
    from_s: f64,
) -> Trial {
    let mut total = Trial { inside: [0.0; 3], rms: [0.0; 3] };
    let mut count = 0.0;
    for seed in 0..n {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let noise = Normal::new(0.0, sigma).unwrap();
        let samples: Vec<Sample> =
            truth.iter().map(|state| Some((state[0] + noise.sample(&mut random), sigma * sigma))).collect();
        let found = smooth(times, &samples, options).unwrap();
        for (i, state) in truth.iter().enumerate().filter(|(i, _)| times[*i] >= from_s) {
            count += 1.0;
            for k in 0..3 {
                let error = found.states[i][k] - state[k];
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

#[test]
fn explore() {
    for smoothness in [Smoothness::Gcv, Smoothness::KnownNoise] {
        for cost in [1.0, 1.2, 1.4] {
            let options = SmoothOptions {
                parameter_cost: cost,
                smoothness: smoothness.clone(),
                ..SmoothOptions::default()
            };
            println!("{smoothness:?} {cost}");
            for (rate, sigma) in [(1000.0, 4e-5), (1000.0, 2e-4), (2000.0, 4e-5)] {
                let times = grid(-0.05, 0.2, rate);
                let truth: Vec<[f64; 3]> = times.iter().map(|&t| smooth_pulse(t)).collect();
                let t = trials(&times, &truth, sigma, &options, 50, -1.0);
                println!(
                    "  pulse {rate} {sigma}: inside {:.3?} rms a {:.3} g v {:.4}",
                    t.inside,
                    t.rms[2] / G,
                    t.rms[1]
                );
            }
            for onset in [0.0, 0.0004] {
                for sigma in [1e-4, 4e-4] {
                    let times = grid(-0.07, 0.38, 1000.0);
                    let truth: Vec<[f64; 3]> = times.iter().map(|&t| struck_car(t, onset)).collect();
                    let options = SmoothOptions { onsets_s: vec![0.0], ..options.clone() };
                    let t = trials(&times, &truth, sigma, &options, 50, -1.0);
                    println!(
                        "  car {onset} {sigma}: inside {:.3?} rms a {:.3} g v {:.4}",
                        t.inside,
                        t.rms[2] / G,
                        t.rms[1]
                    );
                }
            }
            if smoothness == Smoothness::KnownNoise {
                break;
            }
        }
    }
}
