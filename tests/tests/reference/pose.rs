//! Poses of a rigid body against singular value decomposition, a general minimiser, and closed forms of their spread.

use crate::python::{ask, rows};
use anyhow::{Context, Result};
use filmgauge_motion::{BodyTracks, Layout, PlaneMark, Pose, PoseOptions, TargetTrack, layout, poses};
use filmgauge_quantities::{BodyId, PlaneCov, PlanePoint, TargetId};
use serde_json::{Value, json};

/// Poses of a drawn body's frames, and its layout. The script gives the places (rows x, z; their mean is the origin) and
/// every frame's marks (rows x, z, xx, xz, zz). The layout is taken from one frame in which the body stands level.
fn found(drawn: &Value) -> Result<(Vec<Pose>, Layout)> {
    let places = rows(drawn, "places")?;
    let level: Vec<Vec<f64>> = places.iter().map(|row| vec![row[0], row[1], 1e-12, 0.0, 1e-12]).collect();
    let mut frames = vec![level];
    frames.extend(serde_json::from_value::<Vec<Vec<Vec<f64>>>>(drawn["frames"].clone())?);
    let targets = (0..places.len())
        .map(|i| {
            let marks = frames.iter().map(|frame| frame.get(i).map(|row| mark(row))).collect();
            Ok(TargetTrack { id: TargetId::new(&format!("C{i}"))?, marks })
        })
        .collect::<Result<Vec<_>>>()?;
    let times_s = (0..frames.len()).map(|frame| frame as f64 * 1e-3).collect();
    let tracks = BodyTracks { body: BodyId::new("car")?, times_s, targets };
    let layout = layout(&tracks, 0..1)?;
    let poses = poses(&tracks, &layout, &PoseOptions::default())?;
    let poses = poses.into_iter().skip(1).collect::<Option<Vec<_>>>().context("every frame has a pose")?;
    Ok((poses, layout))
}

fn mark(row: &[f64]) -> PlaneMark {
    PlaneMark { point: PlanePoint::new(row[0], row[1]), cov: PlaneCov { xx: row[2], xz: row[3], zz: row[4] } }
}

/// Kabsch 1976, Acta Cryst. A32:922, by numpy's SVD, for equal round covariances; Levenberg-Marquardt by scipy's
/// `least_squares` on whitened residuals for unequal ones, with covariance from its Jacobian.
#[test]
fn poses_of_random_bodies_agree_with_numpy_and_scipy() -> Result<()> {
    for (kind, tolerance) in [("round", 1e-9), ("unequal", 1e-8)] {
        let answer = ask("pose.py", &json!({ "kind": kind, "seed": 5, "n_bodies": 40 }))?;
        let bodies = answer["bodies"].as_array().context("bodies")?;
        let (mut worst, mut worst_cov) = (0.0_f64, 0.0_f64);
        for drawn in bodies {
            let (poses, _) = found(drawn)?;
            let expected = rows(drawn, "poses")?;
            for (pose, row) in poses.iter().zip(&expected) {
                let angle_rad = pose.angle_rad.context("several targets give an angle")?;
                let turned = (angle_rad - row[2] + std::f64::consts::PI).rem_euclid(std::f64::consts::TAU)
                    - std::f64::consts::PI;
                worst = worst.max((pose.x_m - row[0]).abs()).max((pose.z_m - row[1]).abs()).max(turned.abs());
                for i in 0..3 {
                    for j in 0..3 {
                        let sds = (row[3 + 4 * i] * row[3 + 4 * j]).sqrt();
                        worst_cov = worst_cov.max((pose.cov[i][j] - row[3 + 3 * i + j]).abs() / sds);
                    }
                }
            }
        }
        println!(
            "{kind}: {} bodies, poses within {worst:.1e} (m, rad), covariances {worst_cov:.1e}",
            bodies.len()
        );
        assert!(worst < tolerance, "{kind}: poses differ by {worst}");
        assert!(worst_cov < 1e-4, "{kind}: covariances differ by {worst_cov}, relative");
    }
    Ok(())
}

/// Computed from the stated formulas: sd(angle) = s / (rho √n), sd(origin) = s / √n, and for a hidden point at distance d
/// from the middle of the targets s √(1/n + d² / (n rho²)); 4000 frames give a spread to 1.1 %.
#[test]
fn spread_of_poses_follows_the_closed_forms() -> Result<()> {
    let answer = ask("pose.py", &json!({ "kind": "spread", "seed": 11, "n_frames": 4000 }))?;
    let (poses, layout) = found(&answer)?;
    let s_m = answer["sd_m"].as_f64().context("sd_m")?;
    let n = f64::from(u32::try_from(layout.n_places())?);
    let rho_m = layout.spread_m();
    let hidden = PlanePoint::new(1.6, -0.7);
    let spread = |values: Vec<f64>| {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (values.len() as f64 - 1.0)).sqrt()
    };
    // In a still body the hidden point moves along the arm's normal as well: both axes together.
    let seen: Vec<PlanePoint> = poses.iter().map(|pose| pose.plane_from_body(hidden)).collect();
    let hidden_seen_m =
        spread(seen.iter().map(|p| p.x_m).collect()).hypot(spread(seen.iter().map(|p| p.z_m).collect()));
    let d_m = hidden.x_m.hypot(hidden.z_m);
    let hidden_m = s_m * (2.0 / n + d_m * d_m / (n * rho_m * rho_m)).sqrt();
    for (what, seen, formula) in [
        ("angle, rad", spread(poses.iter().filter_map(|p| p.angle_rad).collect()), s_m / (rho_m * n.sqrt())),
        ("origin x, m", spread(poses.iter().map(|p| p.x_m).collect()), s_m / n.sqrt()),
        ("origin z, m", spread(poses.iter().map(|p| p.z_m).collect()), s_m / n.sqrt()),
        ("hidden point, m", hidden_seen_m, hidden_m),
    ] {
        println!("spread of {what}: {seen:.4e}, formula {formula:.4e}, ratio {:.4}", seen / formula);
        assert!((seen / formula - 1.0).abs() < 0.05, "{what}: {seen} against {formula}");
    }
    Ok(())
}
