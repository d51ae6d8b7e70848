//! The lens model against OpenCV's `projectPoints` and `undistortPoints` over the whole picture.

use crate::python::{ask, greatest_difference, rows};
use anyhow::Result;
use filmgauge_geometry::Lens;
use filmgauge_quantities::PixelPoint;
use serde_json::json;

/// A barrel lens with decentring, and one with all radial terms; field of view and size of a high-speed camera.
fn lenses() -> [Lens; 2] {
    [
        Lens {
            fy_px: 1996.0,
            k1: -0.12,
            k2: 0.03,
            p1: 1e-3,
            p2: -5e-4,
            ..Lens::pinhole(2000.0, 650.0, 350.0)
        },
        Lens {
            fy_px: 536.016,
            k1: -0.265,
            k2: -0.047,
            k3: 0.252,
            p1: 0.0018,
            p2: -0.0003,
            ..Lens::pinhole(536.073, 342.37, 235.537)
        },
    ]
}

fn grid(lens: &Lens) -> Vec<PixelPoint> {
    let (width, height) = (2.0 * lens.cx_px, 2.0 * lens.cy_px);
    (0..21 * 13)
        .map(|i| {
            let (column, row) = (f64::from(i % 21) / 20.0, f64::from(i / 21) / 12.0);
            PixelPoint::new(column * width, row * height)
        })
        .collect()
}

fn flat(points: &[PixelPoint]) -> Vec<f64> {
    points.iter().flat_map(|point| [point.x, point.y]).collect()
}

#[test]
fn distortion_and_its_inverse_agree_with_opencv() -> Result<()> {
    for lens in lenses() {
        let stored = grid(&lens);
        let ideal = stored.iter().map(|&point| lens.undistort(point)).collect::<Result<Vec<_>, _>>()?;
        let answer = ask(
            "lens.py",
            &json!({
                "focal": [lens.fx_px, lens.fy_px],
                "centre": [lens.cx_px, lens.cy_px],
                "terms": [lens.k1, lens.k2, lens.p1, lens.p2, lens.k3],
                "stored": stored.iter().map(|p| [p.x, p.y]).collect::<Vec<_>>(),
                "ideal": ideal.iter().map(|p| [p.x, p.y]).collect::<Vec<_>>(),
            }),
        )?;
        let distorted: Vec<PixelPoint> = ideal.iter().map(|&point| lens.distort(point)).collect();
        let forward = greatest_difference(&flat(&distorted), &rows(&answer, "distorted")?.concat())?;
        let back = greatest_difference(&flat(&ideal), &rows(&answer, "undistorted")?.concat())?;
        println!("lens against OpenCV: distorted {forward:.1e} px, undistorted {back:.1e} px");
        assert!(forward < 1e-6, "distorted points differ by {forward} px");
        assert!(back < 1e-6, "undistorted points differ by {back} px");
    }
    Ok(())
}
