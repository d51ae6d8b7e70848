//! Flail-space figures against scipy's exact antiderivatives of the same broken line.

use crate::python::{ask, number};
use anyhow::{Context, Result};
use filmgauge_occupant::{FlailOptions, flail_from_acceleration};
use serde_json::json;
use std::f64::consts::PI;

/// Flail-space model of Michie 1981 (Transportation Research Record 796), with the distances of NCHRP report 350: 0.6 m
/// forward, 0.3 m sideways, ridedown over 10 ms. Computed from the stated definitions.
#[test]
fn flail_space_agrees_with_scipy() -> Result<()> {
    let step_s = 1e-4;
    let pulse = |f: &dyn Fn(f64) -> f64| (0..3000).map(|i| f(f64::from(i) * step_s)).collect::<Vec<f64>>();
    let forward =
        pulse(&|t| if t < 0.14 { 140.0 * (PI * t / 0.14).sin() + 35.0 * (210.0 * t).cos() } else { 2.0 });
    for sideways in [12.0, 75.0] {
        let lateral = pulse(&|t| -sideways * (1.0 + 0.4 * (95.0 * t).sin()));
        let options = FlailOptions::default();
        let ours = flail_from_acceleration(0.0, step_s, &forward, Some(&lateral), &options)?;
        let answer = ask(
            "flail.py",
            &json!({
                "step_s": step_s, "ax": forward, "ay": lateral, "forward_m": options.forward_m,
                "lateral_m": options.lateral_m, "window_s": options.ridedown_window_s,
            }),
        )?;
        for (what, found, key, tolerance) in [
            ("impact time, s", ours.impact_time_s, "time_s", 1e-10),
            ("velocity x, m/s", Some(ours.impact_velocity_x_m_s), "x_m_s", 1e-8),
            ("velocity y, m/s", ours.impact_velocity_y_m_s, "y_m_s", 1e-8),
            ("ridedown x, m/s²", ours.ridedown_x_m_s2, "ridedown_x_m_s2", 1e-2),
            ("ridedown y, m/s²", ours.ridedown_y_m_s2, "ridedown_y_m_s2", 1e-2),
        ] {
            let (found, expected) = (found.with_context(|| format!("no {what}"))?, number(&answer, key)?);
            println!("{what}: {found:.6}, scipy {expected:.6}, difference {:.1e}", found - expected);
            assert!((found - expected).abs() < tolerance, "{what}: {found} against {expected}");
        }
    }
    Ok(())
}
