//! `marked`: whole or not at all, goes on where it was stopped, and says what is wrong with what was asked for.

use crate::rehearsal::{Said, run};
use anyhow::{Result, ensure};
use filmgauge_cli::Exit;
use filmgauge_dossier::{Dossier, Progress, Watch};
use filmgauge_marked::{MarkedError, MarkedOptions, marked_film};
use filmgauge_tests::marked_films::Numbered;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use tempfile::TempDir;

fn numbered() -> Result<(TempDir, Numbered)> {
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR"))?;
    let numbered = Numbered::even(folder.path(), "grey8.mkv")?;
    Ok((folder, numbered))
}

fn marked(dossier: &Path, more: &[&str]) -> Result<Said> {
    let mut all = vec![PathBuf::from("marked"), dossier.to_owned()];
    all.extend(more.iter().map(PathBuf::from));
    run(&all)
}

fn names(folder: &Path) -> Result<Vec<String>> {
    let mut names = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        names.push(entry?.file_name().to_string_lossy().into_owned());
    }
    names.sort();
    Ok(names)
}

/// Asks to stop after so many frames.
struct StopAfter {
    frames: u64,
    seen: AtomicU64,
}

impl Watch for StopAfter {
    fn progress(&self, _: &Progress<'_>) {
        self.seen.fetch_add(1, Ordering::SeqCst);
    }
    fn stop_asked(&self) -> bool {
        self.seen.load(Ordering::SeqCst) >= self.frames
    }
}

#[test]
fn a_film_that_was_stopped_goes_on_and_comes_out_the_same() -> Result<()> {
    let (folder, numbered) = numbered()?;
    let dossier = Dossier::read(&numbered.folder)?;
    for (lossless, name) in [(false, "side.mp4"), (true, "side.mkv")] {
        let options = MarkedOptions { lossless, ..MarkedOptions::default() };
        let out = folder.path().join(if lossless { "lossless" } else { "h264" });
        std::fs::create_dir(&out)?;
        let (whole, stopped) = (out.join("whole"), out.join("stopped"));
        std::fs::create_dir(&whole)?;
        std::fs::create_dir(&stopped)?;
        let never = StopAfter { frames: u64::MAX, seen: AtomicU64::new(0) };
        let made = marked_film(&dossier, &options, &whole.join(name), &never)?;
        ensure!(made.n_kept == 0 && never.seen.load(Ordering::SeqCst) == 300);
        ensure!(names(&whole)? == [name], "nothing but the film is left: {:?}", names(&whole)?);

        let film = stopped.join(name);
        let watch = StopAfter { frames: 270, seen: AtomicU64::new(0) };
        let end = marked_film(&dossier, &options, &film, &watch);
        let Err(error @ MarkedError::Stopped { .. }) = end else { anyhow::bail!("not stopped: {end:?}") };
        ensure!(error.to_string().contains("goes on from there"), "{error}");
        ensure!(names(&stopped)? == [format!(".{name}.pieces")], "{:?}", names(&stopped)?);
        let made = marked_film(&dossier, &options, &film, &never)?;
        ensure!(made.n_kept == 250, "{made:?}");
        ensure!(
            std::fs::read(&film)? == std::fs::read(whole.join(name))?,
            "{name} differs from one made at once"
        );
        ensure!(names(&stopped)? == [name]);

        // A piece that was damaged is made again; those of other options are not taken.
        let watch = StopAfter { frames: 270, seen: AtomicU64::new(0) };
        ensure!(marked_film(&dossier, &options, &film, &watch).is_err());
        ensure!(std::fs::read(&film)? == std::fs::read(whole.join(name))?, "the old film stands");
        let pieces = stopped.join(format!(".{name}.pieces"));
        let piece = pieces.join(&names(&pieces)?[0]);
        let mut bytes = std::fs::read(&piece)?;
        let middle = bytes.len() / 2;
        bytes[middle] ^= 1;
        std::fs::write(&piece, bytes)?;
        let made = marked_film(&dossier, &options, &film, &never)?;
        ensure!(made.n_kept == 0, "{made:?}");
        ensure!(std::fs::read(&film)? == std::fs::read(whole.join(name))?);
    }
    Ok(())
}

#[test]
fn a_film_and_stills_come_from_the_command_line() -> Result<()> {
    let (folder, numbered) = numbered()?;
    let film = folder.path().join("side.mp4");
    let told = film.display().to_string();
    let said = marked(&numbered.folder, &["--out", &told, "--from", "90", "--to", "119", "--slower", "100"])?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);
    for part in ["camera side, frames 90 to 119, 30 pictures of 672 x ", "10 a second: 1/100 of real time"] {
        ensure!(said.out.contains(part), "{part}: {}", said.out);
    }
    let stills = folder.path().join("stills");
    let told = stills.display().to_string();
    let said =
        marked(&numbered.folder, &["--stills", &told, "--frames", "45,210", "--curves", "pitch,speed"])?;
    ensure!(said.exit == Exit::Done, "{}{}", said.out, said.err);
    ensure!(names(&stills)? == ["side-000045.png", "side-000210.png"], "{:?}", names(&stills)?);
    let said = marked(&numbered.folder, &["--stills", &told, "--json"])?;
    ensure!(said.out.contains("side-000100.png"), "the frame of contact: {}{}", said.out, said.err);
    Ok(())
}

#[test]
fn what_cannot_be_is_said_with_what_to_do() -> Result<()> {
    let (folder, numbered) = numbered()?;
    let film = folder.path().join("side.mp4").display().to_string();
    let cases: [(&[&str], &[&str]); 9] = [
        (&["--camera", "rear"], &["no camera \"rear\"", "choose one of side"]),
        (&["--from", "50", "--to", "40"], &["frames 50 to 40 are none"]),
        (&["--to", "300"], &["camera side has frames 0 to 299", "choose among them"]),
        (&["--slower", "0"], &["0 times slower", "above 0"]),
        (&["--slower", "-3"], &["-3 times slower", "above 0"]),
        (&["--slower", "1e9"], &["players show 0.1 to 1000", "choose 1.000 to 10000"]),
        (&["--curves", "speed,yaw"], &["no curve \"yaw\"", "speed, pitch"]),
        (&["--trail", "1000000"], &["too long", "0 to 100000"]),
        (&["--lossless"], &["lossless FFV1", "ending in .mkv"]),
    ];
    for (more, parts) in cases {
        marked(&numbered.folder, &[&["--out", &film], more].concat())?.refused(parts)?;
    }
    let nowhere = folder.path().join("none/side.mp4").display().to_string();
    marked(&numbered.folder, &["--out", &nowhere])?.refused(&["none", "choose another place"])?;
    let other = folder.path().join("side.webm").display().to_string();
    marked(&numbered.folder, &["--out", &other])?.refused(&["ending in .mkv, .mp4, .mov"])?;
    let file = folder.path().join("dossier.toml").display().to_string();
    marked(&numbered.folder, &["--stills", &file])?.refused(&["dossier.toml", "choose another place"])?;
    marked(&numbered.folder, &["--stills", &film, "--frames", "999"])?
        .refused(&["frames 0 to 299", "not 999"])?;
    ensure!(!folder.path().join("side.mp4").exists(), "nothing is left");
    Ok(())
}

#[test]
fn results_that_do_not_follow_are_refused_by_name() -> Result<()> {
    let (folder, numbered) = numbered()?;
    let film = folder.path().join("side.mp4").display().to_string();
    let dossier = folder.path().join("dossier.toml");
    let text = std::fs::read_to_string(&dossier)?;
    std::fs::write(&dossier, text.replace("mass_kg = 10.0", "mass_kg = 11.0"))?;
    let changed = marked(&numbered.folder, &["--out", &film])?;
    changed.refused(&["input dossier.toml", "measure it again"])?;
    std::fs::write(&dossier, text)?;
    let drawing = folder.path().join("results/drawing-side.json");
    std::fs::remove_file(&drawing)?;
    marked(&numbered.folder, &["--out", &film])?
        .refused(&["drawing-side.json", "measure the dossier again"])?;
    std::fs::remove_dir_all(folder.path().join("results"))?;
    marked(&numbered.folder, &["--out", &film])?
        .refused(&["provenance.json", "measure the dossier first"])?;
    ensure!(!folder.path().join("side.mp4").exists(), "nothing is left");
    Ok(())
}
