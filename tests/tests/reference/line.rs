//! Run-up line and slope formulas against JCGM 100, numpy's `polyfit` and scipy's `savgol_coeffs`.

use crate::python::{ask, number, numbers};
use anyhow::{Context, Result};
use filmgauge_motion::{
    NoiseSource, RunUp, Sample, run_up_speed, run_up_speed_about, second_difference_u, slope_gain, slope_u,
};
use filmgauge_quantities::Seconds;
use serde_json::json;

/// JCGM 100:2008, H.3, table H.6: correction of a thermometer against temperature.
const T: [f64; 11] = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511];
const B: [f64; 11] = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160];

/// Rounds to the last printed digit.
fn printed(value: f64, digits: i32) -> f64 {
    (value * 10.0_f64.powi(digits)).round() / 10.0_f64.powi(digits)
}

#[test]
fn straight_line_of_the_gum_as_printed() -> Result<()> {
    let samples: Vec<Sample> = B.iter().map(|&b| Some((b, 1.0))).collect();
    let line = run_up_speed_about(&T, &samples, (0.0, 30.0), 20.0, NoiseSource::Residuals)?;
    let at_30 = line.place_at(Seconds::from_s(30.0));
    let scatter = (line.chi2 / line.dof as f64).sqrt();
    // H.3.3 and H.3.4 of JCGM 100:2008.
    for (what, found, digits, standard) in [
        ("y1", line.place.value.as_m(), 4, -0.1712),
        ("u(y1)", line.place.u.as_m(), 4, 0.0029),
        ("y2", line.speed.value.as_m_s(), 5, 0.002_18),
        ("u(y2)", line.speed.u.as_m_s(), 5, 0.000_67),
        ("r", line.correlation, 3, -0.930),
        ("s", scatter, 4, 0.0035),
        ("b(30)", at_30.value.as_m(), 4, -0.1494),
        ("u(b(30))", at_30.u.as_m(), 4, 0.0041),
    ] {
        println!("JCGM 100 H.3 {what}: {found:.7}, printed {standard}");
        assert!((printed(found, digits) - standard).abs() < 1e-9, "{what}: {found} against {standard}");
    }
    Ok(())
}

/// Weighted lines about the mean time, with variances taken as true and as relative, and the parabola's acceleration.
#[test]
fn weighted_lines_agree_with_numpy() -> Result<()> {
    let times_s: Vec<f64> = (0..60).map(|i| f64::from(i) * 1e-3 - 0.08).collect();
    let samples: Vec<Sample> = times_s
        .iter()
        .zip(0..60)
        .map(|(&t, i)| {
            let sd_m = 1e-4 * (1.5 + (0.7 * f64::from(i)).sin());
            (i % 7 != 3).then_some((14.4 * t - 0.3 * t * t + sd_m * (47.1 * f64::from(i)).sin(), sd_m * sd_m))
        })
        .collect();
    let marks: Vec<[f64; 3]> = times_s
        .iter()
        .zip(&samples)
        .filter_map(|(&t, sample)| sample.map(|(value, variance)| [t, value, variance]))
        .collect();
    let answer = ask("line.py", &json!({ "marks": marks }))?;
    for (noise, key) in [(NoiseSource::Stated, "stated"), (NoiseSource::Residuals, "residuals")] {
        let line = run_up_speed(&times_s, &samples, -1.0, 1.0, noise)?;
        let theirs = numbers(&answer, key)?;
        let mut worst = 0.0_f64;
        for (found, expected) in figures(&line)?.into_iter().zip(theirs) {
            worst = worst.max((found / expected - 1.0).abs());
        }
        println!("weighted line, noise {key}: within {worst:.1e} of numpy.polyfit, relative");
        assert!(worst < 1e-8, "{key}: {worst}");
        assert!((line.chi2 / number(&answer, "chi2")? - 1.0).abs() < 1e-8);
    }
    Ok(())
}

/// Speed, place and acceleration with the standard uncertainty of each.
fn figures(line: &RunUp) -> Result<[f64; 6]> {
    let acceleration = line.acceleration.context("the marks determine a parabola")?;
    Ok([
        line.speed.value.as_m_s(),
        line.speed.u.as_m_s(),
        line.place.value.as_m(),
        line.place.u.as_m(),
        acceleration.value.as_m_s2(),
        acceleration.u.as_m_s2(),
    ])
}

/// Savitzky and Golay 1964, Anal. Chem. 36:1627: first derivative of the quadratic over 2m + 1 points. Its noise is the
/// root of the summed squares of the coefficients, its gain their response to a sine.
#[test]
fn slope_formulas_agree_with_scipy() -> Result<()> {
    let (frequencies_hz, step_s) = ([10.0, 30.0, 60.0], 1e-3);
    let half_widths = [2_u32, 3, 4, 5, 6, 7, 10];
    let answer = ask(
        "slopes.py",
        &json!({ "half_widths": half_widths, "frequencies_hz": frequencies_hz, "step_s": step_s }),
    )?;
    let (noises, gains) = (numbers(&answer, "noise")?, numbers(&answer, "gain")?);
    let ours = half_widths.iter().map(|&m| slope_u(1.0, step_s, m));
    for (found, expected) in ours.zip(&noises) {
        assert!((found / expected - 1.0).abs() < 1e-9, "{found} against {expected}");
    }
    let ours = half_widths.iter().flat_map(|&m| frequencies_hz.map(|f| slope_gain(f, step_s, m)));
    for (found, expected) in ours.zip(&gains) {
        assert!((found - expected).abs() < 1e-9, "{found} against {expected}");
    }
    assert!((second_difference_u(1.0, step_s) / number(&answer, "second_difference")? - 1.0).abs() < 1e-9);
    println!("slopes: {} noise factors and {} gains agree with savgol_coeffs", noises.len(), gains.len());
    Ok(())
}
