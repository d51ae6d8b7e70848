//! Speed of footage: decoding beside ffmpeg and OpenCV, threads, any frame, making an index.

use crate::footage_films::scattered;
use crate::peer::ask;
use anyhow::{Context, Result, ensure};
use filmgauge_footage::{
    FrameIndex, RandomOptions, RandomReader, ReadOptions, Reader, frames, index_footage, open,
};
use filmgauge_quantities::FrameNumber;
use serde_json::json;
use std::fmt::Write;
use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::time::Instant;

/// 1080p, ten seconds, a moving pattern with noise that no two frames share.
pub(super) const SOURCE: &str = "testsrc2=s=1920x1080:r=30:d=10,noise=alls=4:allf=t";

/// Title, footage, coding.
pub(super) const FILMS: [(&str, &str, &[&str]); 4] = [
    (
        "H.264, one key frame in 250",
        "long.mp4",
        &["-c:v", "libx264", "-preset", "veryfast", "-g", "250", "-pix_fmt", "yuv420p"],
    ),
    (
        "H.264, all key frames",
        "intra.mp4",
        &["-c:v", "libx264", "-preset", "veryfast", "-g", "1", "-pix_fmt", "yuv420p"],
    ),
    ("MJPEG", "motion.avi", &["-c:v", "mjpeg", "-q:v", "3"]),
    ("FFV1, grey, 8 bits", "lossless.mkv", &["-c:v", "ffv1", "-g", "1", "-slices", "16", "-pix_fmt", "gray"]),
];

/// Stills for the comparison of threads.
const STILLS: [&str; 5] = ["-frames:v", "60", "-pix_fmt", "gray", "still/%04d.png"];

/// Each time is the least of so many runs.
const RUNS: usize = 2;

/// Frames fetched out of order from each film.
const FETCHES: usize = 80;

/// All tables, in Markdown.
///
/// # Errors
/// When films cannot be made or read, or a peer fails.
pub fn tables() -> Result<String> {
    let folder = tempfile::tempdir()?;
    let base = folder.path();
    std::fs::create_dir(base.join("still"))?;
    for (_, footage, coding) in FILMS {
        ffmpeg(base, &[&["-y", "-f", "lavfi", "-i", SOURCE], coding, &[footage]].concat())?;
    }
    ffmpeg(base, &[&["-y", "-f", "lavfi", "-i", SOURCE][..], &STILLS].concat())?;
    let mut text = String::from(
        "## Footage\n\n1920 x 1080 px, 300 frames, noise in every frame. Ratios are the result; times depend on the machine.\n\n",
    );
    text.push_str(&decoding(base)?);
    text.push_str(&threads(base)?);
    text.push_str(&any_frame(base)?);
    Ok(text)
}

/// Luma of every frame, beside `ffmpeg -f null` and OpenCV's reading to colour.
fn decoding(base: &Path) -> Result<String> {
    let paths: Vec<_> = FILMS.iter().map(|(_, footage, _)| base.join(footage)).collect();
    let answer = ask("random_access.py", &json!({ "timed": paths }))?;
    let mut text = String::from(
        "| film | luma, frames/s | ffmpeg -f null, frames/s | OpenCV, frames/s | against ffmpeg | against OpenCV |\n\
         | --- | --- | --- | --- | --- | --- |\n",
    );
    for (at, (title, footage, _)) in FILMS.iter().enumerate() {
        let (n, ours_s) = least(|| read_through(open(base, footage, &ReadOptions::default())?))?;
        let (_, null_s) = least(|| ffmpeg(base, &["-i", footage, "-f", "null", "-"]).map(|()| 0.0))?;
        let peer_s = answer["timed"][at]["seconds"].as_f64().context("OpenCV gave no time")?;
        let rate = |seconds: f64| n / seconds;
        let _ = writeln!(
            text,
            "| {title} | {:.0} | {:.0} | {:.0} | {:.2} | {:.2} |",
            rate(ours_s),
            rate(null_s),
            rate(peer_s),
            null_s / ours_s,
            peer_s / ours_s
        );
    }
    Ok(text + "\n")
}

/// The same reading on one and on two threads, with the index at hand.
fn threads(base: &Path) -> Result<String> {
    let mut text = String::from(
        "| footage | 1 thread, frames/s | 2 threads, frames/s | gain |\n| --- | --- | --- | --- |\n",
    );
    let footage =
        FILMS.iter().map(|(title, footage, _)| (*title, *footage)).chain([("PNG stills", "still/*.png")]);
    for (title, footage) in footage {
        let index = index_of(base, footage)?;
        let timed = |threads| {
            let options = ReadOptions { threads, ..ReadOptions::default() };
            least(|| read_through(frames(base, footage, Some(&index), &options)?))
        };
        let ((n, one_s), (_, two_s)) = (timed(1)?, timed(2)?);
        let _ = writeln!(text, "| {title} | {:.0} | {:.0} | {:.2} |", n / one_s, n / two_s, one_s / two_s);
    }
    Ok(text + "\n")
}

/// Any frame: time from asking to having it, with an empty cache as far as chance allows; and the making of the index.
fn any_frame(base: &Path) -> Result<String> {
    let mut text = String::from(
        "| film | any frame, median, ms | 95 % below, ms | index made, s | index ÷ decoding |\n| --- | --- | --- | --- | --- |\n",
    );
    for (title, footage, _) in FILMS {
        let (_, decode_s) = least(|| read_through(open(base, footage, &ReadOptions::default())?))?;
        let start = Instant::now();
        let index = index_of(base, footage)?;
        let index_s = start.elapsed().as_secs_f64();
        let options = RandomOptions { cache_bytes: 8 << 20, ..RandomOptions::default() };
        let mut reader = RandomReader::open(base, footage, Arc::clone(&index), &options)?;
        let mut times_ms = Vec::new();
        for number in scattered(index.len()).take(FETCHES) {
            let start = Instant::now();
            reader.frame(FrameNumber(u32::try_from(number)?))?;
            times_ms.push(start.elapsed().as_secs_f64() * 1e3);
        }
        times_ms.sort_by(f64::total_cmp);
        let _ = writeln!(
            text,
            "| {title} | {:.1} | {:.1} | {index_s:.2} | {:.2} |",
            times_ms[FETCHES / 2],
            times_ms[FETCHES * 95 / 100],
            index_s / decode_s
        );
    }
    Ok(text)
}

fn index_of(base: &Path, footage: &str) -> Result<Arc<FrameIndex>> {
    Ok(Arc::new(index_footage(base, footage, &ReadOptions::default(), &mut |_| true)?.1))
}

/// Number of frames.
fn read_through(mut reader: Reader) -> Result<f64> {
    let mut n = 0.0;
    while reader.next_frame()?.is_some() {
        n += 1.0;
    }
    Ok(n)
}

/// What `run` gives, and the least time that it takes, s.
fn least(mut run: impl FnMut() -> Result<f64>) -> Result<(f64, f64)> {
    let mut least_s = f64::INFINITY;
    let mut given = 0.0;
    for _ in 0..RUNS {
        let start = Instant::now();
        given = run()?;
        least_s = least_s.min(start.elapsed().as_secs_f64());
    }
    Ok((given, least_s))
}

pub(super) fn ffmpeg(folder: &Path, arguments: &[&str]) -> Result<()> {
    let done =
        Command::new("ffmpeg").current_dir(folder).args(["-nostdin", "-v", "error"]).args(arguments).output();
    let done = done.context("ffmpeg is needed as the peer; run `cargo xtask setup`")?;
    ensure!(done.status.success(), "ffmpeg {arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
    Ok(())
}
