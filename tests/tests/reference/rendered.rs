//! The renderer's truth against centres found in its noise-free picture by scipy, in two ways each.

use crate::python::{ask, number, rows};
use anyhow::{Context, Result};
use filmgauge_proving::{Renderer, TruthMark, proof_scene, simulate, truth_marks};
use serde_json::json;

/// Sixteen targets of all four kinds, without noise. First way: the picture against its own half-turn, quintic spline
/// and Levenberg-Marquardt. Second way: for discs, rings and crosses the centroid of what differs from the even
/// background; for quadrants a blurred-edge model fitted to the inner half. Computed from the stated shapes, no
/// published figure.
#[test]
fn truth_is_where_scipy_finds_the_centres() -> Result<()> {
    let scene = proof_scene();
    let truth = simulate(&scene)?;
    let picture = Renderer::new(&scene, &truth, 0)?.noise_free(0);
    let marks: Vec<TruthMark> =
        truth_marks(&scene, &truth, 0).into_iter().filter(|mark| mark.frame == 0).collect();
    let width = scene.cameras.first().context("the proof scene has a camera")?.width_px;
    let targets: Vec<_> = marks
        .iter()
        .map(|mark| {
            // Whole pixels only: the script starts without knowing the answer.
            let near = [mark.x_px.round(), mark.y_px.round()];
            json!({ "kind": mark.target.split('-').next(), "near": near, "radius": mark.radius_px })
        })
        .collect();
    let answer = ask("rendered.py", &json!({ "width": width, "grey": picture, "targets": targets }))?;
    for way in ["symmetry", "second"] {
        let found = rows(&answer, way)?;
        assert_eq!(found.len(), marks.len());
        let mut worst = 0.0_f64;
        for (mark, centre) in marks.iter().zip(&found) {
            let (dx, dy) = (centre[0] - mark.x_px, centre[1] - mark.y_px);
            worst = worst.max(dx.hypot(dy));
            assert!(dx.hypot(dy) < 1e-3, "{} by {way}: off by ({dx:.5}, {dy:.5}) px", mark.target);
        }
        println!("rendered truth by {way}: {} targets within {worst:.1e} px", marks.len());
    }
    println!("edge model leaves {:.2e} of the contrast", number(&answer, "edge_model_residual")?);
    Ok(())
}
