//! `lens`: photographs of a chessboard (Debian package opencv-doc) to a lens file, in words and as JSON, and refusals.

use crate::rehearsal::{film, run};
use anyhow::{Context, Result, ensure};
use filmgauge_cli::Exit;
use filmgauge_footage::write_png;
use filmgauge_geometry::LensFile;
use filmgauge_tests::accuracy::lens::photographs;
use filmgauge_tests::straight_edges::{SIZE_PX, centred_text, edges_text, picture, true_lens};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

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
    let files = ["--grid", "9x6", "--pitch", "25mm", "--out", &toml, "--opencv", &yaml, "--drawing", &svg];
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
    run(&command(&["--grid", "9x6", "--pitch", "25mm", "--drawing", "lens.gif"])?)?
        .refused(&["lens.gif", ".svg", ".png"])?;
    run(&["lens", "board.png"])?.refused(&["--grid", "--pitch"])
}

/// A folder with the rendered picture of beams and an edges file.
fn beams(edges: &str) -> Result<tempfile::TempDir> {
    let folder = tempfile::tempdir()?;
    write_png(&folder.path().join("beams.png"), &picture(1)?.view())?;
    fs::write(folder.path().join("edges.toml"), edges)?;
    Ok(folder)
}

fn from_edges(folder: &Path, more: &[&str]) -> Result<crate::rehearsal::Said> {
    let path = |name: &str| folder.join(name).display().to_string();
    let mut arguments = vec!["lens".to_owned(), path("beams.png"), "--edges".into(), path("edges.toml")];
    arguments.extend(more.iter().map(|word| (*word).to_owned()));
    run(&arguments)
}

#[test]
fn straight_edges_become_a_lens_file() -> Result<()> {
    let folder = beams(&centred_text())?;
    let path = |name: &str| folder.path().join(name).display().to_string();
    let (toml, png, svg) = (path("beams-lens.toml"), path("beams-lens.png"), path("beams-lens.svg"));
    let said = from_edges(folder.path(), &["--out", &toml, "--drawing", &png])?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);
    for part in ["beam 1", "over 5 edges", "before correction", "k1", "±", "px about the centre", "wrote"] {
        ensure!(said.out.contains(part), "{part}: {}", said.out);
    }
    let lens = LensFile::parse(&fs::read_to_string(&toml)?, "beams-lens.toml")?;
    let truth = true_lens();
    ensure!((lens.lens.k1 - truth.k1).abs() < 3.0 * lens.u[4] && lens.u[2] > 0.0, "{lens:?}");
    ensure!(lens.size_px == Some(SIZE_PX) && lens.field_radius_px.is_some_and(|it| it > 400.0), "{lens:?}");
    ensure!(fs::read(&png)?.starts_with(b"\x89PNG"), "a PNG file");
    let said = from_edges(folder.path(), &["--json", "--drawing", &svg])?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);
    let page: Value = serde_json::from_str(&said.out)?;
    ensure!(page["edges"].as_array().is_some_and(|edges| edges.len() == 5), "{page:#}");
    ensure!(page["rms_px"].as_f64().is_some_and(|rms| rms < 0.1), "{page:#}");
    ensure!(page["lens"]["k1"]["u"].as_f64() == Some(lens.u[4]), "{page:#}");
    ensure!(fs::read_to_string(&svg)?.contains("point of an edge"), "the drawing says what its arrows are");
    Ok(())
}

#[test]
fn edges_that_give_no_lens_are_refused_with_their_reason() -> Result<()> {
    let all = edges_text();
    let edge =
        |n: usize| all.split("[[edge]]").nth(n).map(|text| format!("[[edge]]{text}")).unwrap_or_default();
    let through_centre: String = ["[100, 310]", "[480, 10]", "[150, 20]"]
        .iter()
        .map(|from| {
            let [x, y]: [f64; 2] = serde_json::from_str(from).unwrap_or_default();
            let wobble = |k: u32| 0.3 * f64::from((7 * k) % 5) - 0.6;
            let at = |k: u32| {
                let share = f64::from(k) / 5.0;
                [x + share * (959.0 - 2.0 * x) + wobble(k), y + share * (639.0 - 2.0 * y) - wobble(k + 2)]
            };
            let points: Vec<[f64; 2]> =
                (0..11).map(|k| at(k).map(|it| it.clamp(0.0, 639.0))).take(6).collect();
            format!("[[edge]]\nlocate = false\npoints_px = {points:?}\n")
        })
        .collect();
    for (text, parts) in [
        (String::new(), ["0 of 0 edges", "too few"]),
        (edge(1) + &edge(2), ["2 of 2 edges located (beam 1, beam 2)", "2 straight edges are too few"]),
        (
            edge(1) + &edge(2) + "[[edge]]\nname = \"sky\"\npoints_px = [[300, 120], [700, 125]]\n",
            ["sky: no edge at its first end", "too few"],
        ),
        (all.replace("points_px", "points"), ["edges.toml, line 3", "points_px"]),
        (
            "[[edge]]\npoints_px = [[1, 2], [1e9, 4]]\n".into(),
            ["is not in the picture of 960 x 640 px", "too few"],
        ),
        ("[[edge]]\npoints_px = [[1, 2]]\n".into(), ["give both its ends", "too few"]),
        (format!("centre_uncertainty_px = -1.0\n{all}"), ["centre_u_px", "0 px or more"]),
        (format!("frame = 3\n{all}"), ["has no frame 3", "it has 1"]),
        (through_centre, ["do not tell the distortion", "far from the middle"]),
    ] {
        let folder = beams(&text)?;
        from_edges(folder.path(), &[])?.refused(&parts)?;
    }
    let folder = beams(&all)?;
    from_edges(folder.path(), &["--grid", "9x6"])?.refused(&["--grid", "--edges"])?;
    from_edges(folder.path(), &[&folder.path().join("beams.png").display().to_string()])?
        .refused(&["one picture", "2 were given"])?;
    fs::remove_file(folder.path().join("edges.toml"))?;
    from_edges(folder.path(), &[])?.refused(&["edges.toml cannot be read"])
}

#[test]
fn what_does_not_fit_asks_for_a_person() -> Result<()> {
    let all = edges_text();
    let wanted = format!("{all}[[edge]]\nname = \"sky\"\npoints_px = [[300, 120], [700, 125]]\n");
    let folder = beams(&wanted)?;
    from_edges(folder.path(), &[])?.asks(&["to look at", "sky was not used"])?;
    // The picture's middle is 11 px off the lens' own centre, which straight lines betray.
    let folder = beams(&all)?;
    from_edges(folder.path(), &[])?.asks(&["to look at", "the centre of distortion is elsewhere"])
}
