//! Stills and colour mosaics against OpenCV and tifffile: the same samples, bit for bit.

use crate::python::ask;
use anyhow::{Context, Result, ensure};
use filmgauge_footage::{Frame, ReadOptions, open};
use filmgauge_quantities::GreyPixels;
use serde_json::{Value, json};
use std::path::Path;
use std::process::Command;

fn levels(frame: &Frame) -> Vec<f64> {
    match frame.picture.view().pixels() {
        GreyPixels::Eight(samples) => samples.iter().map(|&level| f64::from(level)).collect(),
        GreyPixels::Sixteen(samples) => samples.iter().map(|&level| f64::from(level)).collect(),
    }
}

fn frames(base: &Path, footage: &str) -> Result<Vec<Frame>> {
    let mut reader = open(base, footage, &ReadOptions::default())?;
    let mut frames = Vec::new();
    while let Some(frame) = reader.next_frame()? {
        frames.push(frame);
    }
    Ok(frames)
}

/// Written by OpenCV (PNG, PGM, BMP, TIFF with every compression it has) and tifffile (both byte orders, 64-bit
/// offsets, pages, tiles, strips, white-is-zero) from random samples, and read back by them: equal here, every sample.
/// Mosaics: OpenCV's own bilinear interpolation, weighted here as Recommendation ITU-R BT.601-7 says. OpenCV rounds
/// each colour first, hence up to one level apart; at the edges it copies instead of mirroring, so they are left out.
#[test]
fn stills_hold_the_samples_that_opencv_and_tifffile_read() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let answer = ask("footage_stills.py", &json!({ "folder": folder.path(), "seed": 20_141 }))?;
    let stills = answer["stills"].as_array().context("no stills")?;
    for still in stills {
        let name = still["name"].as_str().context("no name")?;
        let expected: Vec<Vec<f64>> = serde_json::from_value(still["pages"].clone())?;
        let found = frames(folder.path(), name).with_context(|| name.to_owned())?;
        ensure!(found.len() == expected.len(), "{name}: {} pages, not {}", found.len(), expected.len());
        for (frame, page) in found.iter().zip(&expected) {
            assert_eq!(Some(u64::from(frame.picture.view().bits())), still["bits"].as_u64(), "{name}");
            assert!(&levels(frame) == page, "{name}: other samples");
        }
    }
    let mosaics = answer["mosaics"].as_array().context("no mosaics")?;
    for mosaic in mosaics {
        compare_mosaic(folder.path(), mosaic)?;
    }
    println!("{} stills equal in every sample, {} mosaics within a level", stills.len(), mosaics.len());
    Ok(())
}

fn compare_mosaic(base: &Path, mosaic: &Value) -> Result<()> {
    let [bits, width, height] =
        ["bits", "width", "height"].map(|key| mosaic[key].as_u64().and_then(|n| usize::try_from(n).ok()));
    let (bits, width, height) =
        bits.zip(width).zip(height).map(|((b, w), h)| (b, w, h)).context("no size")?;
    let order = mosaic["order"].as_str().context("no order")?;
    let layout = format!("bayer_{order}{bits}{}", if bits == 16 { "le" } else { "" });
    let written = Command::new("ffmpeg")
        .current_dir(base)
        .args(["-nostdin", "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", &layout])
        .args(["-s", &format!("{width}x{height}"), "-i", &format!("{order}{bits}.raw")])
        .args(["-c:v", "rawvideo", "mosaic.nut"])
        .status()
        .context("the ffmpeg command is missing; install the package ffmpeg")?;
    ensure!(written.success(), "ffmpeg does not write {layout}");
    let found = frames(base, "mosaic.nut")?;
    let ours = levels(found.first().context("no frame")?);
    let theirs: Vec<f64> = serde_json::from_value(mosaic["luma"].clone())?;
    for at in 0..width * height {
        let (x, y) = (at % width, at / width);
        let inside = (1..width - 1).contains(&x) && (1..height - 1).contains(&y);
        let off = (ours[at] - theirs[at]).abs();
        assert!(!inside || off <= 1.01, "{layout} at ({x}, {y}): {} against {}", ours[at], theirs[at]);
    }
    Ok(())
}
