//! Corners of real chessboard photographs (Debian package opencv-doc): ours beside OpenCV's findChessboardCorners and
//! cornerSubPix.

use crate::peer::ask;
use anyhow::{Context, Result, ensure};
use filmgauge_footage::ReadOptions;
use filmgauge_quantities::PixelPoint;
use filmgauge_targets::{Spot, SpotOptions, spot};
use serde_json::json;
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// Where the package puts its pictures.
const FOLDER: &str = "/usr/share/doc/opencv-doc/examples/data";
/// Inner corners of the board along its sides.
const BOARD: [u32; 2] = [9, 6];
/// A corner within this distance of OpenCV's is the same, px.
const SAME_PX: f64 = 1.0;

/// How far two programs agree on the corners of some pictures.
#[derive(Debug, Clone, Default)]
pub struct Agreement {
    /// Pictures in which OpenCV found the board.
    pub n_pictures: usize,
    /// Corners that OpenCV found.
    pub n_theirs: usize,
    /// Those of them that ours lie within 1 px of.
    pub n_both: usize,
    /// Root mean square difference of these along one axis, px.
    pub rms_px: Option<f64>,
    /// Finds of ours further than 1 px from any of OpenCV's.
    pub n_more: usize,
}

/// Agreement on the pictures `names` of the package.
///
/// # Errors
/// When the package or the reference venv is missing: run `cargo xtask setup`.
pub fn agreement(names: &[String]) -> Result<Agreement> {
    let paths: Vec<PathBuf> = names.iter().map(|name| Path::new(FOLDER).join(name)).collect();
    for path in &paths {
        ensure!(path.is_file(), "{} is missing; run `cargo xtask setup`", path.display());
    }
    let theirs = ask("spot.py", &json!({ "pictures": paths, "board": BOARD }))?;
    let theirs = theirs.as_array().context("OpenCV gave no list")?;
    let mut sum = Agreement::default();
    let mut squares = 0.0;
    for (name, theirs) in names.iter().zip(theirs) {
        let Some(theirs) = theirs.as_array() else { continue };
        let ours = corners(name)?;
        let theirs: Vec<PixelPoint> = theirs
            .iter()
            .filter_map(|at| Some(PixelPoint::new(at.get(0)?.as_f64()?, at.get(1)?.as_f64()?)))
            .collect();
        let nearest = |at: PixelPoint| {
            let away = ours.iter().map(|spot| spot.centre.distance(at));
            away.min_by(f64::total_cmp).filter(|&away| away < SAME_PX)
        };
        let both: Vec<f64> = theirs.iter().filter_map(|&at| nearest(at)).collect();
        squares += both.iter().map(|away| away * away).sum::<f64>();
        sum.n_pictures += 1;
        sum.n_theirs += theirs.len();
        sum.n_both += both.len();
        let is_more = |spot: &&Spot| theirs.iter().all(|at| at.distance(spot.centre) >= SAME_PX);
        sum.n_more += ours.iter().filter(is_more).count();
    }
    sum.rms_px = (sum.n_both > 0).then(|| (squares / (2.0 * sum.n_both as f64)).sqrt());
    Ok(sum)
}

fn corners(name: &str) -> Result<Vec<Spot>> {
    let mut reader = filmgauge_footage::open(Path::new(FOLDER), name, &ReadOptions::default())?;
    let frame = reader.next_frame()?.with_context(|| format!("{name} holds no picture"))?;
    let options =
        SpotOptions { pattern_may_continue: true, least_score: 0.6, most: 400, ..SpotOptions::default() };
    Ok(spot(&frame.picture.view(), &options)?)
}

/// All photographs of the package's two cameras.
pub(super) fn table() -> Result<String> {
    let mut text = String::from(
        "Corners of a chessboard of 9 x 6 inner corners, photographs of the Debian package opencv-doc; ours with \
         `pattern_may_continue`, beside OpenCV's findChessboardCorners with cornerSubPix, which knows the board. \
         Same: within 1 px. Further finds are corners of the board's rim, of print and of the room.\n\n\
         | camera | photographs | OpenCV's corners | same, % | RMS difference along an axis, px | further finds |\n\
         | --- | --- | --- | --- | --- | --- |\n",
    );
    for camera in ["left", "right"] {
        let names: Vec<String> = (1..=14).map(|k| format!("{camera}{k:02}.jpg")).collect();
        let there: Vec<String> =
            names.into_iter().filter(|name| Path::new(FOLDER).join(name).is_file()).collect();
        ensure!(!there.is_empty(), "no {camera} photographs in {FOLDER}; run `cargo xtask setup`");
        let sum = agreement(&there)?;
        let share = 100.0 * sum.n_both as f64 / sum.n_theirs.max(1) as f64;
        let rms = sum.rms_px.map_or_else(|| "none".to_owned(), |rms| format!("{rms:.3}"));
        let _ = writeln!(
            text,
            "| {camera} | {} | {} | {share:.1} | {rms} | {} |",
            sum.n_pictures, sum.n_theirs, sum.n_more
        );
    }
    Ok(text)
}
