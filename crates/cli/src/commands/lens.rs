//! `lens`: calibrates a lens from pictures of a board or from straight edges in one, and writes lens files and a drawing.

use super::lens_page::{board_json, edges_json, print_board, print_edges};
use crate::exit::Exit;
use crate::watch::Terminal;
use anyhow::{Context, bail, ensure};
use filmgauge_dossier::lens::{
    EdgesFile, LensCalibration, board_of, calibrate_from_board, calibrate_from_edges, frame_of_footage,
};
use filmgauge_report::{Rasterer, lens_svg, write_file};
use std::io::Write;
use std::path::Path;

/// What was asked for, as typed.
pub(super) struct Wanted<'a> {
    pub(super) grid: Option<&'a str>,
    pub(super) pitch: Option<&'a str>,
    pub(super) edges: Option<&'a Path>,
    pub(super) out: Option<&'a Path>,
    pub(super) opencv: Option<&'a Path>,
    pub(super) drawing: Option<&'a Path>,
}

pub(super) fn lens(
    images: &[String],
    wanted: &Wanted,
    json: bool,
    out: &mut dyn Write,
) -> anyhow::Result<Exit> {
    if let Some(path) = wanted.drawing {
        ensure!(
            ending(path, "svg") || ending(path, "png"),
            "--drawing: {} ends neither in .svg nor in .png; name a file of one of the two",
            path.display()
        );
    }
    let calibration = match wanted.edges {
        Some(file) => from_edges(images, file)?,
        None => from_board(images, wanted)?,
    };
    write_files(&calibration, wanted)?;
    if json {
        let page = match &calibration {
            LensCalibration::Board(board) => board_json(board),
            LensCalibration::Edges(edges) => edges_json(edges),
        };
        writeln!(out, "{}", serde_json::to_string_pretty(&page)?)?;
    } else {
        match &calibration {
            LensCalibration::Board(board) => print_board(board, out)?,
            LensCalibration::Edges(edges) => print_edges(&calibration, edges, out)?,
        }
        for path in [wanted.out, wanted.opencv, wanted.drawing].into_iter().flatten() {
            writeln!(out, "wrote          {}", path.display())?;
        }
    }
    Ok(Exit::person_if(!calibration.notices().is_empty()))
}

fn ending(path: &Path, wanted: &str) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case(wanted))
}

fn from_board(images: &[String], wanted: &Wanted) -> anyhow::Result<LensCalibration> {
    let (Some(grid), Some(pitch)) = (wanted.grid, wanted.pitch) else {
        bail!("a board needs --grid and --pitch; straight edges need --edges");
    };
    let grid = board_of(grid, pitch).context("--grid, --pitch")?;
    let terminal = Terminal::new();
    let calibrated = calibrate_from_board(Path::new("."), images, &grid, &terminal);
    terminal.clear();
    Ok(LensCalibration::Board(Box::new(calibrated?)))
}

fn from_edges(images: &[String], file: &Path) -> anyhow::Result<LensCalibration> {
    let text = std::fs::read_to_string(file)
        .with_context(|| format!("--edges: {} cannot be read; check its name", file.display()))?;
    let shown = EdgesFile::parse(&text, &file.display().to_string())?;
    let [image] = images else {
        bail!(
            "--edges belongs to one picture, and {} were given; give the one that the edges were seen in",
            images.len()
        );
    };
    let frame = frame_of_footage(Path::new("."), image, shown.frame)?;
    let calibrated = calibrate_from_edges(&frame.picture.view(), &shown)?;
    Ok(LensCalibration::Edges(Box::new(calibrated)))
}

fn write_files(calibration: &LensCalibration, wanted: &Wanted) -> anyhow::Result<()> {
    let file = calibration.file();
    if let Some(path) = wanted.out {
        write_file(path, file.to_toml().as_bytes())?;
    }
    if let Some(path) = wanted.opencv {
        write_file(path, file.to_opencv_yaml().as_bytes())?;
    }
    if let Some(path) = wanted.drawing {
        let svg = lens_svg(&calibration.picture())?;
        if ending(path, "png") {
            write_file(path, &Rasterer::of_this_system().png(&svg)?)?;
        } else {
            write_file(path, svg.as_bytes())?;
        }
    }
    Ok(())
}
