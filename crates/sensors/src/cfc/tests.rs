//! Class filter against published coefficients and responses.

use super::*;

const G_HALF_SINE: f64 = 20.0;
const RATE_HZ: f64 = 10_000.0;
const PAD: usize = 2000;

fn padded(pulse: &[f64]) -> Vec<f64> {
    [&[0.0; PAD], pulse, &[0.0; PAD]].concat()
}

fn filtered(pulse: &[f64], class: CfcClass) -> Vec<f64> {
    cfc(&padded(pulse), RATE_HZ, class, StartRule::Zero).unwrap()
}

fn half_sine(n_steps: u32) -> Vec<f64> {
    (0..=n_steps)
        .map(|i| G_HALF_SINE * (std::f64::consts::PI * f64::from(i) / f64::from(n_steps)).sin())
        .collect()
}

fn peak(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::MIN, f64::max)
}

#[test]
fn coefficients_follow_the_published_formula() {
    // SAE J211-1, appendix C, with 2.0775; digits computed from that formula.
    use CfcClass::{Cfc60, Cfc180, Cfc600, Cfc1000};
    for (rate_hz, class, a0, a1, b1, b2) in [
        (10_000.0, Cfc60, 0.001_452_367_474, 0.002_904_734_947, 1.889_343_224, -0.895_152_694_1),
        (10_000.0, Cfc180, 0.011_796_271_10, 0.023_592_542_20, 1.670_117_463, -0.717_302_547_7),
        (10_000.0, Cfc600, 0.097_184_625_28, 0.194_369_250_6, 0.945_574_009_1, -0.334_312_510_2),
        (10_000.0, Cfc1000, 0.219_231_417_2, 0.438_462_834_4, 0.311_896_545_0, -0.188_822_213_9),
        (20_000.0, Cfc60, 0.000_373_000_631, 0.000_746_001_262, 1.944_633_046, -0.946_125_048_0),
        (20_000.0, Cfc180, 0.003_182_636_249, 0.006_365_272_499, 1.834_196_422, -0.846_926_966_9),
        (20_000.0, Cfc1000, 0.071_893_097_07, 0.143_786_194_1, 1.111_586_176, -0.399_158_564_4),
        (1_000.0, Cfc60, 0.097_184_625_28, 0.194_369_250_6, 0.945_574_009_1, -0.334_312_510_2),
        (500.0, Cfc60, 0.291_606_179_6, 0.583_212_359_2, 0.005_152_850_664, -0.171_577_569_0),
    ] {
        let c = cfc_coefficients(rate_hz, class, CfcConstant::Sae).unwrap();
        for (found, published) in [(c.a0, a0), (c.a1, a1), (c.a2, a0), (c.b1, b1), (c.b2, b2)] {
            assert!((found - published).abs() < 6e-10, "{class:?} at {rate_hz}: {found} {published}");
        }
        assert!((c.a0 + c.a1 + c.a2 + c.b1 + c.b2 - 1.0).abs() < 1e-13);
    }
}

#[test]
fn half_sines_keep_their_published_peaks() {
    // Computed from the stated filter on 20 g half-sines at 10 kHz, zeros on both sides.
    for (n_steps, class_60, class_180) in [
        (1000, 19.999_95, 20.000_00),
        (200, 19.983_51, 19.999_61),
        (100, 19.015_75, 19.993_09),
        (50, 14.047_68, 19.916_07),
    ] {
        assert!((peak(&filtered(&half_sine(n_steps), CfcClass::Cfc60)) - class_60).abs() < 6e-6);
        assert!((peak(&filtered(&half_sine(n_steps), CfcClass::Cfc180)) - class_180).abs() < 6e-6);
    }
}

#[test]
fn a_square_overshoots_and_rises_as_computed() {
    // Computed from the stated filter on 20 g for 50 ms at 10 kHz.
    for (class, overshoot, rise_samples) in
        [(CfcClass::Cfc60, 20.671_30, 36), (CfcClass::Cfc180, 20.677_62, 12)]
    {
        let output = filtered(&[20.0; 500], class);
        assert!((peak(&output) - overshoot).abs() < 2e-5, "{}", peak(&output));
        let first_above = |level: f64| output.iter().position(|&value| value >= level).unwrap();
        assert!((first_above(18.0) - first_above(2.0)).abs_diff(rise_samples) <= 1);
    }
}

#[test]
fn a_single_sample_spreads_as_computed() {
    // Computed from the stated filter on one sample of 1000 g at 10 kHz; the sum is kept.
    for (class, at_0, at_1, at_10) in
        [(CfcClass::Cfc60, 27.664_2, 27.585_9, 21.912_8), (CfcClass::Cfc180, 82.470_6, 80.664_1, 14.322_2)]
    {
        let output = filtered(&[1000.0], class);
        for (index, value) in [(0, at_0), (1, at_1), (10, at_10)] {
            assert!((output[PAD + index] - value).abs() < 6e-5);
            assert!((output[PAD - index] - value).abs() < 6e-5, "the response is symmetric in time");
        }
        assert!((output.iter().sum::<f64>() - 1000.0).abs() < 1e-6);
    }
}

/// Amplitude of a long sine after the filter, in decibels.
fn response_db(frequency_hz: f64, rate_hz: f64, class: CfcClass, constant: CfcConstant) -> f64 {
    let c = cfc_coefficients(rate_hz, class, constant).unwrap();
    let n_samples = 40_000;
    let sine: Vec<f64> = (0..n_samples)
        .map(|i| (2.0 * std::f64::consts::PI * frequency_hz * f64::from(i) / rate_hz).sin())
        .collect();
    let output = cfc_with(&sine, &c, StartRule::PointMirror).unwrap();
    let middle = 10_000..30_000;
    let power = |values: &[f64]| values[middle.clone()].iter().map(|value| value * value).sum::<f64>();
    10.0 * (power(&output) / power(&sine)).log10()
}

#[test]
fn responses_lie_where_the_formula_puts_them() {
    // Two passes give 1 / (1 + (f / 2.0775 CFC)^4): −0.454 dB at CFC, −3.010 dB at 5/3 CFC (computed).
    for (share, db) in [(0.5, -0.029), (1.0, -0.454), (5.0 / 3.0, -3.010), (2.0, -5.385)] {
        let found = response_db(60.0 * share, 20_000.0, CfcClass::Cfc60, CfcConstant::Sae);
        assert!((found - db).abs() < 0.004, "{share}: {found}");
    }
    // The bilinear transform deepens the stop band near half the sample rate (computed).
    let deep = response_db(300.0, 10_000.0, CfcClass::Cfc60, CfcConstant::Sae);
    assert!((deep + 30.852).abs() < 0.01, "{deep}");
    let iso = response_db(100.0, 20_000.0, CfcClass::Cfc60, CfcConstant::Iso);
    assert!((iso + 2.98).abs() < 0.01, "ISO 6487 factor: {iso}");
}

#[test]
fn area_symmetry_and_peak_time_are_kept() {
    for class in [CfcClass::Cfc60, CfcClass::Cfc180, CfcClass::Cfc600, CfcClass::Cfc1000] {
        let pulse = half_sine(400);
        let output = filtered(&pulse, class);
        assert!((output.iter().sum::<f64>() - pulse.iter().sum::<f64>()).abs() < 1e-6);
        for i in 0..output.len() {
            assert!((output[i] - output[output.len() - 1 - i]).abs() < 1e-9);
        }
        let highest = (0..output.len()).max_by(|&a, &b| output[a].total_cmp(&output[b])).unwrap();
        assert_eq!(highest, PAD + 200);
    }
}

#[test]
fn ends_follow_the_chosen_rule() {
    let level = vec![9.806_65; 300];
    for start in [StartRule::PointMirror, StartRule::HoldEnds] {
        for value in cfc(&level, RATE_HZ, CfcClass::Cfc180, start).unwrap() {
            assert!((value - 9.806_65).abs() < 1e-10);
        }
    }
    assert!(cfc(&level, RATE_HZ, CfcClass::Cfc180, StartRule::Zero).unwrap()[0] < 6.0);
    let ramp: Vec<f64> = (0..3000).map(f64::from).collect();
    let output = cfc(&ramp, RATE_HZ, CfcClass::Cfc180, StartRule::PointMirror).unwrap();
    assert!(
        (output[0] - 0.0).abs() < 0.02 && (output[2999] - 2999.0).abs() < 0.02,
        "{} {}",
        output[0],
        output[2999]
    );
    assert!(cfc(&[], RATE_HZ, CfcClass::Cfc60, StartRule::PointMirror).unwrap().is_empty());
    assert_eq!(cfc(&[1.0], RATE_HZ, CfcClass::Cfc60, StartRule::PointMirror).unwrap().len(), 1);
}

#[test]
fn a_class_too_high_for_the_rate_is_refused() {
    // The corner must lie below half the rate: at 500 samples/s class 60 (124.65 Hz) runs, class 180 does not.
    assert!(cfc(&[0.0; 10], 500.0, CfcClass::Cfc60, StartRule::Zero).is_ok());
    let message = cfc(&[0.0; 10], 500.0, CfcClass::Cfc180, StartRule::Zero).unwrap_err().to_string();
    assert!(message.contains("180") && message.contains("500") && message.contains("747.9"), "{message}");
    for rate_hz in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(cfc_coefficients(rate_hz, CfcClass::Cfc60, CfcConstant::Sae).is_err());
    }
    assert!(
        cfc(&[0.0, f64::NAN], 10_000.0, CfcClass::Cfc60, StartRule::Zero)
            .unwrap_err()
            .to_string()
            .contains("sample 1")
    );
}
