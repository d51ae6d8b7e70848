//! The channel frequency class filter against scipy's Butterworth design and its forward and backward filters.

use crate::python::{ask, greatest_difference, number, numbers};
use anyhow::Result;
use filmgauge_sensors::{CfcClass, CfcConstant, StartRule, cfc, cfc_coefficients};
use serde_json::json;
use std::f64::consts::PI;

const CLASSES: [(CfcClass, f64); 6] = [
    (CfcClass::Cfc60, 10_000.0),
    (CfcClass::Cfc180, 10_000.0),
    (CfcClass::Cfc600, 20_000.0),
    (CfcClass::Cfc1000, 20_000.0),
    (CfcClass::Cfc60, 1_000.0),
    (CfcClass::Cfc60, 500.0),
];

/// Pulse, ringing, a step and an offset: starts and ends away from zero.
fn record(rate_hz: f64) -> Vec<f64> {
    (0..1500)
        .map(|i| {
            let t = f64::from(i) / rate_hz;
            let step = if i > 700 { 12.0 } else { 0.0 };
            3.0 + 40.0 * (2.0 * PI * 17.0 * t).sin() + 9.0 * (2.0 * PI * 310.0 * t + 0.4).cos() + step
        })
        .collect()
}

/// SAE J211-1, appendix C, is a second-order Butterworth section with its corner at 2.0775 times the class; scipy
/// designs that section by its own bilinear transform. Starts: from rest (`lfilter`), and point-mirrored
/// (`filtfilt`, odd padding).
#[test]
fn filtered_records_agree_with_scipy() -> Result<()> {
    for (class, rate_hz) in CLASSES {
        let values = record(rate_hz);
        let c = cfc_coefficients(rate_hz, class, CfcConstant::Sae)?;
        let n_padded = ((0.01 * rate_hz).round() as usize).clamp(100, values.len() - 1);
        let question = json!({
            "rate_hz": rate_hz, "class_hz": class.number_hz(), "values": values, "n_padded": n_padded,
        });
        let answer = ask("class_filter.py", &question)?;
        let ours = [c.a0, c.a1, c.a2, -c.b1, -c.b2];
        let designed = greatest_difference(&ours, &numbers(&answer, "coefficients")?)?;
        assert!(designed < 1e-12, "{class:?}: coefficients differ by {designed}");
        for (start, key) in [(StartRule::Zero, "from_rest"), (StartRule::PointMirror, "mirrored")] {
            let difference =
                greatest_difference(&cfc(&values, rate_hz, class, start)?, &numbers(&answer, key)?)?;
            println!("{class:?} at {rate_hz} Hz, {start:?}: {difference:.1e}, coefficients {designed:.1e}");
            assert!(difference < 1e-9, "{class:?} {start:?}: records differ by {difference}");
        }
    }
    Ok(())
}

/// Nominal −3 dB frequencies are 5/3 of the class (SAE J211-1: 100, 300 and 1000 Hz for classes 60, 180 and 600).
/// The half-power frequency of our own response to one sample is held against scipy's `freqz` of its own design.
#[test]
fn half_power_frequency_agrees_with_scipy() -> Result<()> {
    let rate_hz = 20_000.0;
    for (class, nominal_hz) in
        [(CfcClass::Cfc60, 100.0), (CfcClass::Cfc180, 300.0), (CfcClass::Cfc600, 1000.0)]
    {
        let mut values = vec![0.0; 8001];
        values[4000] = 1.0;
        let response = cfc(&values, rate_hz, class, StartRule::Zero)?;
        let question = json!({
            "rate_hz": rate_hz, "class_hz": class.number_hz(), "values": values, "n_padded": 200,
            "response": response,
        });
        let answer = ask("class_filter.py", &question)?;
        let (ours_hz, designed_hz) =
            (number(&answer, "response_half_hz")?, number(&answer, "designed_half_hz")?);
        println!(
            "{class:?}: half power at {ours_hz:.3} Hz, scipy {designed_hz:.3} Hz, nominal {nominal_hz} Hz"
        );
        assert!((ours_hz - designed_hz).abs() < 1e-3 * designed_hz);
        assert!((ours_hz - nominal_hz).abs() < 0.01 * nominal_hz);
    }
    Ok(())
}
