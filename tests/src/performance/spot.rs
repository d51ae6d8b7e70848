//! Speed of finding targets in one frame, by kinds, beside OpenCV's circle transform and corner strength in the same run.

use crate::accuracy::spot::painted;
use crate::peer::ask;
use anyhow::{Context, Result};
use filmgauge_quantities::{GreyImage, TargetKind};
use filmgauge_targets::{SpotOptions, TextureSpotOptions, spot, texture_spots};
use serde_json::json;
use std::fmt::Write;
use std::time::Instant;

/// Runs of each; the fastest counts.
const RUNS: u32 = 5;
const SEED: u64 = 900;
const NOISE_GREY: f64 = 2.0;

/// The table for the page.
///
/// # Errors
/// When the frame cannot be made or OpenCV does not answer.
pub fn table() -> Result<String> {
    let image = painted(SEED, NOISE_GREY)?;
    let view = image.view();
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let (circles, corners) = peer(&image, threads)?;
    let mut text = format!(
        "## Finding targets in a frame\n\n\
         One painted frame of {} x {} px with 25 targets of radius 6 to 80 px and what is none, {threads} threads, fastest of {RUNS} runs.\n\
         The peers look for circles alone (HoughCircles, radius 6 to 80 px) and for corners alone (cornerHarris with its peaks).\n\n\
         | what | ms |\n| --- | --- |\n",
        view.width(),
        view.height()
    );
    for (what, kinds) in [
        ("all kinds", SpotOptions::default().kinds),
        ("quadrants", vec![TargetKind::Quadrant]),
        ("crosses", vec![TargetKind::Cross]),
        ("discs and rings", vec![TargetKind::Disc, TargetKind::Ring]),
    ] {
        let options = SpotOptions { kinds, ..SpotOptions::default() };
        let _ = writeln!(text, "| {what} | {:.0} |", fastest(|| spot(&view, &options).map(drop))?);
    }
    let patches = fastest(|| texture_spots(&view, &TextureSpotOptions::default()).map(drop))?;
    let _ = writeln!(text, "| patches of texture | {patches:.0} |");
    let _ = writeln!(text, "| OpenCV HoughCircles | {circles:.0} |\n| OpenCV cornerHarris | {corners:.0} |");
    Ok(text)
}

/// ms of the fastest run.
fn fastest<E: std::error::Error + Send + Sync + 'static>(work: impl Fn() -> Result<(), E>) -> Result<f64> {
    let mut best = f64::INFINITY;
    for _ in 0..RUNS {
        let start = Instant::now();
        work()?;
        best = best.min(1000.0 * start.elapsed().as_secs_f64());
    }
    Ok(best)
}

/// ms of OpenCV for circles and for corners.
fn peer(image: &GreyImage, threads: usize) -> Result<(f64, f64)> {
    let folder = tempfile::tempdir().context("a scratch folder is needed")?;
    let path = folder.path().join("frame.raw");
    let view = image.view();
    let patch = view.patch(0, 0, view.width(), view.height()).context("a frame without pixels")?;
    let bytes: Vec<u8> = patch.grey.iter().map(|&level| level as u8).collect();
    std::fs::write(&path, bytes)?;
    let question =
        json!({ "frame": path, "size": [view.width(), view.height()], "runs": RUNS, "threads": threads });
    let answer = ask("spot_speed.py", &question)?;
    let ms = |name: &str| answer[name].as_f64().with_context(|| format!("OpenCV gave no time for {name}"));
    Ok((ms("circles")?, ms("corners")?))
}
