//! `lens`: photographs of a chessboard (Debian package opencv-doc) to a lens file, in words and as JSON, and refusals.

use crate::rehearsal::{film, run};
use anyhow::{Context, Result, ensure};
use filmgauge_cli::Exit;
use filmgauge_geometry::LensFile;
use filmgauge_tests::accuracy::lens::photographs;
use serde_json::Value;
use std::fs;
use std::path::PathBuf;

/// Every second photograph: seven views.
fn command(more: &[&str]) -> Result<Vec<PathBuf>> {
    let pictures = photographs("left")?.into_iter().step_by(2);
    Ok([PathBuf::from("lens")].into_iter().chain(pictures).chain(more.iter().map(PathBuf::from)).collect())
}

#[test]
fn photographs_become_a_lens_file() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let path = |name: &str| folder.path().join(name).display().to_string();
    let (toml, yaml, svg) = (path("left.toml"), path("left.yml"), path("left.svg"));
    let files = ["--grid", "9x6", "--pitch", "25mm", "--out", &toml, "--opencv", &yaml, "--picture", &svg];
    let said = run(&command(&files)?)?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);
    for part in ["left01.jpg", "chosen", "fx_px", "±", "over 7 views", "about the principal point"] {
        ensure!(said.out.contains(part), "{part}: {}", said.out);
    }
    let lens = LensFile::parse(&fs::read_to_string(&toml)?, "left.toml")?;
    ensure!((520.0..545.0).contains(&lens.lens.fx_px) && lens.n_views == Some(7), "{lens:?}");
    ensure!(lens.u[0] > 0.0 && lens.correlation[0][1] > 0.5 && lens.field_radius_px.is_some(), "{lens:?}");
    let of_opencv = LensFile::parse(&fs::read_to_string(&yaml)?, "left.yml")?;
    ensure!(of_opencv.lens == lens.lens && of_opencv.size_px == Some((640, 480)), "{of_opencv:?}");
    let drawing = fs::read_to_string(&svg)?;
    ensure!(drawing.starts_with("<svg ") && drawing.contains("times enlarged"), "{drawing}");
    Ok(())
}

#[test]
fn the_whole_calibration_comes_as_json() -> Result<()> {
    let said = run(&command(&["--grid", "6x9", "--pitch", "0.025m", "--json"])?)?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);
    let page: Value = serde_json::from_str(&said.out).with_context(|| said.err.clone())?;
    ensure!(page["views"].as_array().is_some_and(|views| views.len() == 7), "{page:#}");
    ensure!(
        page["views"][0]["residuals_px"].as_array().is_some_and(|corners| corners.len() == 54),
        "{page:#}"
    );
    let fx = &page["lens"]["fx_px"];
    let variance = page["covariance"][0][0].as_f64().context("a variance")?;
    ensure!(fx["u"].as_f64().is_some_and(|u| (u * u / variance - 1.0).abs() < 1e-9), "{fx:#}");
    ensure!(page["rms_px"].as_f64().is_some_and(|rms| rms < 0.2), "{page:#}");
    Ok(())
}

#[test]
fn pictures_without_the_board_are_named() -> Result<()> {
    run(&command(&["--grid", "8x6", "--pitch", "25mm"])?)?.refused(&[
        "board found in 0 of 7 pictures",
        "9x6 inner corners is seen, not 8x6",
        "too few",
    ])?;
    let two = photographs("left")?.into_iter().take(2);
    let rest = ["--grid", "9x6", "--pitch", "25mm"].map(PathBuf::from);
    let arguments: Vec<PathBuf> = [PathBuf::from("lens")].into_iter().chain(two).chain(rest).collect();
    run(&arguments)?.refused(&["2 views of the grid are too few", "tilted differently"])?;
    let mut other_size = command(&["--grid", "9x6", "--pitch", "25mm"])?;
    other_size.insert(3, film()?);
    run(&other_size)?.refused(&["1280 x 448 px", "640 x 480 px", "one camera"])
}

#[test]
fn grid_pitch_and_drawing_are_checked_before_any_picture_is_read() -> Result<()> {
    for (more, parts) in [
        (["--grid", "9by6", "--pitch", "25mm"], ["--grid", "9x6"]),
        (["--grid", "2x6", "--pitch", "25mm"], ["columns is 2", "3 to 100"]),
        (["--grid", "9x6", "--pitch", "25"], ["--pitch", "25mm"]),
        (["--grid", "9x6", "--pitch", "25m"], ["25 m is implausible", "unit"]),
    ] {
        run(&command(&more)?)?.refused(&parts)?;
    }
    run(&command(&["--grid", "9x6", "--pitch", "25mm", "--picture", "lens.png"])?)?
        .refused(&["lens.png", ".svg"])?;
    run(&["lens", "board.png"])?.refused(&["--grid", "--pitch"])
}
