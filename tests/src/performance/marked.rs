//! Speed and memory of marked films, beside decoding alone.

use super::footage::ffmpeg;
use super::report::{forget_peak, status_mib};
use crate::marked_films::Numbered;
use anyhow::Result;
use filmgauge_dossier::{Dossier, Unwatched};
use filmgauge_footage::{ReadOptions, open};
use filmgauge_marked::{MarkedOptions, marked_film};
use std::fmt::Write;
use std::time::Instant;

/// Seconds of film at 30 frames/s.
const LENGTHS_S: [u32; 2] = [4, 12];
/// Codings, and whether they lose nothing.
const CODINGS: [(&str, &str, bool); 2] = [("H.264", "side.mp4", false), ("FFV1, lossless", "side.mkv", true)];

/// The table for the page.
///
/// # Errors
/// When films cannot be made, read or marked.
pub fn table() -> Result<String> {
    let mut text = String::from(
        "## Marked films\n\n1920 x 1080 px in H.264, one mark with its trail, axes of a body, two diagrams. Decoding alone is the same \
         film read to its end by the same reader. Peak memory is what marking takes beside the process itself.\n\n\
         | coding | frames | decoding alone, frames/s | marking, frames/s | ratio | peak, MiB |\n| --- | --- | --- | --- | --- | --- |\n",
    );
    for seconds in LENGTHS_S {
        let folder = tempfile::tempdir()?;
        std::fs::create_dir(folder.path().join("films"))?;
        let source = format!("testsrc2=s=1920x1080:r=30:d={seconds},noise=alls=4:allf=t");
        let how = ["-c:v", "libx264", "-preset", "veryfast", "-g", "50", "-pix_fmt", "yuv420p"];
        ffmpeg(
            folder.path(),
            &[&["-y", "-f", "lavfi", "-i", &source][..], &how, &["films/long.mp4"]].concat(),
        )?;
        let numbered = Numbered::of_film(folder.path(), "long.mp4", |frame| f64::from(frame) / 1000.0)?;
        let dossier = Dossier::read(&numbered.folder)?;
        let decoded = decoding_rate(&numbered)?;
        for (name, file, lossless) in CODINGS {
            let curves = Some(vec!["speed".to_owned(), "pitch".to_owned()]);
            let options = MarkedOptions { lossless, curves, ..MarkedOptions::default() };
            forget_peak();
            let before = status_mib("VmRSS:")?;
            let start = Instant::now();
            marked_film(&dossier, &options, &folder.path().join(file), &Unwatched)?;
            let rate = f64::from(numbered.n_frames) / start.elapsed().as_secs_f64();
            let peak = status_mib("VmHWM:")? - before;
            let _ = writeln!(
                text,
                "| {name} | {} | {decoded:.0} | {rate:.1} | {:.2} | {peak:.0} |",
                numbered.n_frames,
                rate / decoded
            );
        }
    }
    Ok(text)
}

/// Frames a second that reading alone gives.
fn decoding_rate(numbered: &Numbered) -> Result<f64> {
    let start = Instant::now();
    let mut reader = open(&numbered.folder, "films/long.mp4", &ReadOptions::default())?;
    while reader.next_frame()?.is_some() {}
    Ok(f64::from(numbered.n_frames) / start.elapsed().as_secs_f64())
}
