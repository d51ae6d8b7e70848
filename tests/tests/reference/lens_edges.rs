//! A lens from straight edges in a rendered picture: against the lens that rendered it, and against OpenCV's
//! `undistortPoints`, under which the located points must lie on straight lines.

use crate::python::{ask, numbers};
use anyhow::{Result, ensure};
use filmgauge_dossier::lens::{EdgesFile, calibrate_from_edges};
use filmgauge_geometry::Lens;
use filmgauge_quantities::{COVERAGE_95, PixelPoint};
use filmgauge_tests::straight_edges::{SIZE_PX, edges_text, picture, true_lens};
use serde_json::json;

/// Greatest displacement between two lenses over the picture after the shift that both agree on at the middle, px.
fn worst_px(ours: &Lens, truth: &Lens) -> Result<f64> {
    let middle = PixelPoint::new(479.5, 319.5);
    let about = |lens: &Lens, at: PixelPoint| -> Result<[f64; 2]> {
        let (far, near) = (lens.undistort(at)?, lens.undistort(middle)?);
        Ok([far.x - near.x, far.y - near.y])
    };
    let mut worst = 0.0_f64;
    for (x, y) in [(30.0, 30.0), (930.0, 30.0), (30.0, 610.0), (930.0, 610.0), (480.0, 30.0), (30.0, 320.0)] {
        let at = PixelPoint::new(x, y);
        let ([ax, ay], [bx, by]) = (about(ours, at)?, about(truth, at)?);
        worst = worst.max((ax - bx).hypot(ay - by));
    }
    Ok(worst)
}

#[test]
fn edges_give_the_lens_back_and_are_straight_under_opencv() -> Result<()> {
    let truth = true_lens();
    let image = picture(1)?;
    let mut shown = EdgesFile::parse(&edges_text(), "edges.toml")?;
    shown.centre_px = Some([truth.cx_px, truth.cy_px]);
    shown.centre_uncertainty_px = Some(0.0);
    let found = calibrate_from_edges(&image.view(), &shown)?;
    let (fit, u) = (&found.fit, found.fit.cov[0][0].sqrt());
    println!(
        "k1 {:.5} ± {:.5}, truth {}; RMS {:.4} px, {:.2} before; {} points",
        fit.lens.k1,
        COVERAGE_95 * u,
        truth.k1,
        fit.rms_px,
        fit.rms_before_px,
        found.n_points()
    );
    ensure!(found.unused.is_empty() && found.notices.is_empty(), "{:?} {:?}", found.unused, found.notices);
    ensure!((fit.lens.k1 - truth.k1).abs() < 3.0 * u && u < 0.002, "{} ± {u}", fit.lens.k1);
    ensure!(worst_px(&fit.lens, &truth)? < 0.3, "{}", worst_px(&fit.lens, &truth)?);

    let edges: Vec<Vec<[f64; 2]>> =
        found.edges.iter().map(|edge| edge.points.iter().map(|at| [at.x, at.y]).collect()).collect();
    let answer = ask(
        "lens_edges.py",
        &json!({
            "focal": [fit.lens.fx_px, fit.lens.fy_px],
            "centre": [fit.lens.cx_px, fit.lens.cy_px],
            "terms": [fit.lens.k1, fit.lens.k2, 0.0, 0.0, 0.0],
            "edges": edges,
        }),
    )?;
    let (before, after) = (numbers(&answer, "before")?, numbers(&answer, "after")?);
    for (n, ((before, after), ours)) in before.iter().zip(&after).zip(&fit.edge_rms_px).enumerate() {
        println!("edge {}: {before:.3} px as stored, {after:.4} px under OpenCV, {ours:.4} px here", n + 1);
        ensure!(*after < 0.05, "edge {}: {after} px", n + 1);
        // Ours counts in stored pixels, which the lens enlarges by up to a quarter at the rim.
        ensure!((1.0..1.35).contains(&(after / ours)), "edge {}: {after} and {ours} px", n + 1);
    }
    Ok(())
}

/// With the picture's middle as the centre, which is 11 px off, the doubt about the centre must hold what follows.
#[test]
fn a_centre_that_is_off_stays_within_the_stated_doubt() -> Result<()> {
    let truth = true_lens();
    let found = calibrate_from_edges(&picture(2)?.view(), &EdgesFile::parse(&edges_text(), "edges.toml")?)?;
    let u = found.fit.cov_with_centre[2][2].sqrt();
    println!("k1 {:.5} ± {:.5} about the middle of {SIZE_PX:?}", found.fit.lens.k1, COVERAGE_95 * u);
    ensure!((found.fit.lens.k1 - truth.k1).abs() < 3.0 * u, "{} ± {u}", found.fit.lens.k1);
    ensure!(u > found.fit.cov[0][0].sqrt(), "the centre's doubt is in it");
    Ok(())
}
