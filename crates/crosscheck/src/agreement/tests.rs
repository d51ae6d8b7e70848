//! Figures of agreement against closed forms and against values computed from the stated formulas.

use super::*;
use crate::outcome::Measured;
use std::f64::consts::PI;

/// A 20 g half-sine of 100 ms that starts at `start_s` in a window of `length_s`, in g.
fn pulse(start_s: f64, factor: f64, length_s: f64, rate_hz: f64) -> Vec<f64> {
    let n = (length_s * rate_hz).round() as usize + 1;
    let at = |i: usize| {
        let t = i as f64 / rate_hz - start_s;
        if (0.0..=0.1).contains(&t) { factor * 20.0 * (PI * t / 0.1).sin() } else { 0.0 }
    };
    (0..n).map(at).collect()
}

/// Corridor, phase and slope are closed forms of the formulas; the error of magnitude depends a little on the rules for equal
/// steps of the warping, so that 0.01 is left.
#[test]
fn ratings_of_a_half_sine() {
    let reference = pulse(0.02, 1.0, 0.15, 1e4);
    let square = {
        let n = reference.len();
        (0..n).map(|i| if (200..=1200).contains(&i) { 12.732 } else { 0.0 }).collect()
    };
    // Name, curve; corridor, phase, magnitude, slope; overall, grade.
    type Row = (&'static str, Vec<f64>, [f64; 4], f64, Grade);
    let cases: [Row; 6] = [
        ("itself", reference.clone(), [1.0, 1.0, 1.0, 1.0], 1.0, Grade::Excellent),
        ("1.1", pulse(0.02, 1.1, 0.15, 1e4), [0.938_257, 1.0, 0.9584, 0.95], 0.957, Grade::Excellent),
        ("1.2", pulse(0.02, 1.2, 0.15, 1e4), [0.790_759, 1.0, 0.8928, 0.9], 0.8749, Grade::Good),
        ("late by 5 ms", pulse(0.025, 1.0, 0.15, 1e4), [0.8564, 0.833_44, 1.0, 1.0], 0.9093, Grade::Good),
        (
            "0.9, late by 10 ms",
            pulse(0.03, 0.9, 0.15, 1e4),
            [0.6572, 0.6669, 0.9534, 0.95],
            0.777,
            Grade::Fair,
        ),
        ("square", square, [0.5779, 1.0, 0.4714, 0.1974], 0.5649, Grade::Poor),
    ];
    for (name, judged, [corridor, phase, magnitude, slope], overall, grade) in cases {
        let found = rating(&reference, &judged, &RatingOptions::default()).unwrap();
        println!("{name}: {found:?}");
        assert!((found.corridor - corridor).abs() < 1e-3, "{name}: corridor {}", found.corridor);
        assert!((found.phase - phase).abs() < 1e-3, "{name}: phase {}", found.phase);
        assert!((found.magnitude - magnitude).abs() < 0.01, "{name}: magnitude {}", found.magnitude);
        assert!((found.slope - slope).abs() < 0.01, "{name}: slope {}", found.slope);
        assert!((found.overall - overall).abs() < 0.005, "{name}: {}", found.overall);
        assert_eq!(found.grade(), grade, "{name}");
    }
    let late = rating(&reference, &pulse(0.025, 1.0, 0.15, 1e4), &RatingOptions::default()).unwrap();
    assert_eq!(late.shift, 50);
}

#[test]
fn a_curve_of_zeros_is_poor_and_not_refused() {
    let reference = pulse(0.02, 1.0, 0.15, 1e4);
    let found = rating(&reference, &vec![0.0; reference.len()], &RatingOptions::default()).unwrap();
    assert!((found.corridor - 0.4198).abs() < 1e-3 && found.magnitude == 0.0, "{found:?}");
    assert!((found.overall - 0.4679).abs() < 0.005, "{found:?}");
}

/// The error of magnitude of 1.1 T at other sample rates (0.0279 at 1 kHz, 0.0219 at 4 kHz: own reckoning of the stated formulas, 0.01
/// left for the rules of warping), and the closed form of the slope's error, |k - 1| for a curve k times the reference.
#[test]
fn ratings_at_other_sample_rates() {
    for (rate_hz, magnitude_error) in [(1e3, 0.0279), (4e3, 0.0219)] {
        for k in [0.8, 1.1, 1.3] {
            let of = |factor: f64| pulse(0.02, factor, 0.15, rate_hz);
            let found = rating(&of(1.0), &of(k), &RatingOptions::default()).unwrap();
            // The score of the slope is (2 - |k - 1|) / 2.
            assert!(
                (found.slope - (2.0 - (k - 1.0_f64).abs()) / 2.0).abs() < 1e-9,
                "{k} at {rate_hz}: {found:?}"
            );
            if k == 1.1 {
                let magnitude = (0.5 - magnitude_error) / 0.5;
                assert!((found.magnitude - magnitude).abs() < 0.01, "{rate_hz}: {found:?}");
            }
        }
    }
}

/// P of a half-sine that is late by d, with x = πd/T: acos((1 − d/T) cos x + sin x/π)/π (computed from the stated formula).
#[test]
fn sprague_and_geers_of_shifted_and_scaled_curves() {
    let reference = pulse(0.02, 1.0, 0.2, 1e4);
    let percent = |judged: &[f64]| {
        let found = sprague_geers(&reference, judged).unwrap();
        [found.magnitude, found.phase, found.both].map(|share| 100.0 * share)
    };
    let close = |found: [f64; 3], truth: [f64; 3]| found.iter().zip(truth).all(|(a, b)| (a - b).abs() < 2e-4);
    assert!(close(percent(&pulse(0.02, 1.1, 0.2, 1e4)), [10.0, 0.0, 10.0]));
    assert!(close(percent(&pulse(0.025, 1.0, 0.2, 1e4)), [0.0, 4.915_826, 4.915_826]));
    let mixed = percent(&pulse(0.03, 0.9, 0.2, 1e4));
    assert!(close(mixed, [-10.0, 9.6589, 13.9030]), "{mixed:?}");
    let sine = |factor: f64, late: f64| -> Vec<f64> {
        (0..3600).map(|i| factor * (f64::from(i) * PI / 1800.0 - late).sin()).collect()
    };
    for (factor, late_deg, truth) in
        [(1.1, 0.0_f64, [0.1, 0.0, 0.1]), (1.0, 36.0, [0.0, 0.2, 0.2]), (1.2, 18.0, [0.2, 0.1, 0.223_607])]
    {
        let found = sprague_geers(&sine(1.0, 0.0), &sine(factor, late_deg.to_radians())).unwrap();
        let found = [found.magnitude, found.phase, found.both];
        assert!((0..3).all(|k| (found[k] - truth[k]).abs() < 1e-6), "{found:?} {truth:?}");
    }
    // A zero that is 1 g off (computed from the stated formulas).
    let lifted: Vec<f64> = pulse(0.0, 1.0, 0.2, 1e4).iter().map(|value| value + 1.0).collect();
    let found = sprague_geers(&pulse(0.0, 1.0, 0.2, 1e4), &lifted).unwrap();
    let percent = [found.magnitude, found.phase, found.both].map(|share| 100.0 * share);
    assert!(percent.iter().zip([6.6456, 2.3048, 7.0339]).all(|(a, b)| (a - b).abs() < 3e-3), "{percent:?}");
}

#[test]
fn residuals_of_shifted_and_scaled_curves() {
    let reference = pulse(0.0, 1.0, 0.2, 1e4);
    let percent = |judged: &[f64]| {
        let found = residual_figures(&reference, judged).unwrap();
        [100.0 * found.mean, 100.0 * found.sd]
    };
    let near = |[mean, sd]: [f64; 2], truth: [f64; 2]| {
        (mean - truth[0]).abs() < 3e-3 && (sd - truth[1]).abs() < 3e-3
    };
    assert!(near(percent(&pulse(0.0, 1.1, 0.2, 1e4)), [-3.1815, 3.8565]));
    assert!(near(percent(&pulse(0.005, 1.0, 0.2, 1e4)), [0.0, 7.7141]));
    assert!(near(percent(&pulse(0.01, 0.9, 0.2, 1e4)), [3.1815, 14.8479]));
    let lifted: Vec<f64> = reference.iter().map(|value| value + 1.0).collect();
    assert!(near(percent(&lifted), [-5.0, 0.0]));
}

#[test]
fn the_normalised_error_is_one_at_the_expanded_uncertainty_of_the_difference() {
    let measured = |value: f64, u: f64| Measured { value, u };
    assert!((normalised_error(measured(10.0, 0.3), measured(9.0, 0.4)).unwrap() - 1.0).abs() < 1e-12);
    assert!(normalised_error(measured(10.0, 0.0), measured(9.0, 0.0)).is_none());
}

#[test]
fn curves_that_cannot_be_compared_are_refused() {
    let curve = vec![1.0; 30];
    for (reference, judged) in [
        (vec![1.0; 30], vec![1.0; 29]),
        (vec![1.0; 5], vec![1.0; 5]),
        (vec![0.0; 30], curve.clone()),
        (vec![f64::NAN; 30], curve.clone()),
    ] {
        assert!(rating(&reference, &judged, &RatingOptions::default()).is_err());
    }
    assert!(sprague_geers(&curve, &vec![0.0; 30]).is_err());
    let wrong = RatingOptions { outer_corridor: 0.01, ..RatingOptions::default() };
    assert!(rating(&curve, &curve, &wrong).is_err());
}
