//! Two lenses calibrated from photographs of a chessboard (Debian package opencv-doc), beside OpenCV's calibrateCamera.

use crate::peer::ask;
use anyhow::{Context, Result, ensure};
use filmgauge_footage::ReadOptions;
use filmgauge_geometry::{FlatGrid, GridView, LensFile, LensFit, LensFitOptions, fit_lens};
use filmgauge_quantities::Length;
use filmgauge_targets::{ChessboardOptions, find_chessboard};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Where the package puts its pictures.
pub const FOLDER: &str = "/usr/share/doc/opencv-doc/examples/data";
/// Inner corners of the board.
pub const BOARD: [usize; 2] = [9, 6];
/// Its pitch as the package's own calibration file states it; a lens does not depend on it.
const PITCH_MM: f64 = 25.0;
const SIZE_PX: (u32, u32) = (640, 480);

/// What OpenCV makes of some corners.
#[derive(Debug, Clone)]
pub struct Peer {
    /// Root mean square distance, px.
    pub rms_px: f64,
    /// Terms in the order of `LENS_TERMS`.
    pub terms: Vec<f64>,
    /// Their standard deviations.
    pub sd: Vec<f64>,
    /// Root mean square distance of each view, px.
    pub views: Vec<f64>,
}

/// A camera of the package, calibrated.
#[derive(Debug, Clone)]
pub struct Calibrated {
    /// "left" or "right".
    pub camera: &'static str,
    /// Photographs there are.
    pub n_photographs: usize,
    /// Ours, from all photographs.
    pub fit: LensFit,
    /// OpenCV's with our corners and the same terms.
    pub same_corners: Peer,
    /// OpenCV's with its own corners, half-window 11.
    pub window_11: Peer,
    /// The same, half-window 5.
    pub window_5: Peer,
    /// What OpenCV reads of our lens file: camera matrix by rows, then its distortion terms, then the picture's width.
    pub read_back: Vec<f64>,
}

/// Photographs of a camera, in order.
///
/// # Errors
/// When the package is missing: run `cargo xtask setup`.
pub fn photographs(camera: &str) -> Result<Vec<PathBuf>> {
    let paths = (1..=14).map(|k| Path::new(FOLDER).join(format!("{camera}{k:02}.jpg")));
    let there: Vec<PathBuf> = paths.filter(|path| path.is_file()).collect();
    ensure!(
        there.len() == 13,
        "{} {camera} photographs in {FOLDER}, not 13; run `cargo xtask setup`",
        there.len()
    );
    Ok(there)
}

/// The corners of the board in a photograph.
///
/// # Errors
/// When it cannot be read or shows no board.
pub fn view(path: &Path) -> Result<GridView> {
    let name = path.file_name().and_then(|name| name.to_str()).context("a name")?;
    let mut reader = filmgauge_footage::open(Path::new(FOLDER), name, &ReadOptions::default())?;
    let frame = reader.next_frame()?.with_context(|| format!("{name} holds no picture"))?;
    let options = ChessboardOptions::of(BOARD[0], BOARD[1]);
    let board = find_chessboard(&frame.picture.view(), &options).with_context(|| name.to_owned())?;
    let stem = name.trim_end_matches(".jpg").to_owned();
    Ok(GridView { name: stem, corners: board.corners.iter().map(|corner| corner.at).collect() })
}

/// Calibrates one camera, ours and OpenCV's.
///
/// # Errors
/// When package or reference venv are missing, or a photograph shows no board.
pub fn calibrated(camera: &'static str) -> Result<Calibrated> {
    let paths = photographs(camera)?;
    let views = paths.iter().map(|path| view(path)).collect::<Result<Vec<_>>>()?;
    let grid = FlatGrid { columns: BOARD[0], rows: BOARD[1], pitch: Length::from_mm(PITCH_MM) };
    let fit = fit_lens(&grid, &views, SIZE_PX, &LensFitOptions::default())?;
    let corners = |view: &GridView| view.corners.iter().map(|at| [at.x, at.y]).collect::<Vec<_>>();
    let free = fit.terms.free();
    let answer = ask(
        "lens_grid.py",
        &json!({
            "board": BOARD,
            "pitch_m": PITCH_MM / 1e3,
            "size": SIZE_PX,
            "views": views.iter().map(corners).collect::<Vec<_>>(),
            "free": { "k1": free[4], "k2": free[5], "k3": free[6], "p": free[7] },
            "pictures": paths,
            "file": LensFile::of_fit(&fit).to_opencv_yaml(),
        }),
    )?;
    let file = &answer["file"];
    let read_back =
        [numbers(file, "camera")?, numbers(file, "bend")?, vec![file["width"].as_f64().context("width")?]];
    Ok(Calibrated {
        camera,
        n_photographs: paths.len(),
        fit,
        same_corners: peer(&answer, "same_corners")?,
        window_11: peer(&answer, "window_11")?,
        window_5: peer(&answer, "window_5")?,
        read_back: read_back.concat(),
    })
}

fn peer(answer: &Value, name: &str) -> Result<Peer> {
    let of = &answer[name];
    let rms_px = of["rms"].as_f64().with_context(|| format!("OpenCV gave no {name}"))?;
    Ok(Peer { rms_px, terms: numbers(of, "terms")?, sd: numbers(of, "sd")?, views: numbers(of, "views")? })
}

fn numbers(value: &Value, key: &str) -> Result<Vec<f64>> {
    serde_json::from_value(value[key].clone()).with_context(|| format!("{key} is no list of numbers"))
}
