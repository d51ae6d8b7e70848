//! Makes `docs/performance.md`: frame rate and peak memory of `measure`, a long film beside a short one, and the decode
//! alone as the peer, all in one run.

use anyhow::{Context, ensure};
use filmgauge_footage::{Encoding, ReadOptions};
use filmgauge_proving::Scene;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

/// Frames of the short and the long film, side camera.
const LENGTHS: [u32; 2] = [500, 2000];

struct Measured {
    n_frames: u32,
    seconds: f64,
    peak_mib: f64,
    decode_seconds: f64,
    peer_seconds: f64,
}

fn main() -> anyhow::Result<()> {
    let out = std::env::args().skip_while(|word| word != "--out").nth(1);
    let out = PathBuf::from(out.unwrap_or_else(|| "docs/performance.md".into()));
    let section = std::env::args().skip_while(|word| word != "--section").nth(1);
    if section.as_deref() == Some("following") {
        let table = filmgauge_tests::performance::follow::table()?;
        return std::fs::write(&out, table).with_context(|| format!("{} cannot be written", out.display()));
    }
    if section.as_deref() == Some("desk") {
        let table = filmgauge_tests::performance::desk::table()?;
        return std::fs::write(&out, table).with_context(|| format!("{} cannot be written", out.display()));
    }
    if section.as_deref() == Some("report") {
        let table = filmgauge_tests::performance::report::table()?;
        return std::fs::write(&out, table).with_context(|| format!("{} cannot be written", out.display()));
    }
    if section.as_deref() == Some("marked") {
        let table = filmgauge_tests::performance::marked::table()?;
        return std::fs::write(&out, table).with_context(|| format!("{} cannot be written", out.display()));
    }
    if section.as_deref() == Some("motion") {
        let table = filmgauge_tests::performance::motion::table()?;
        return std::fs::write(&out, table).with_context(|| format!("{} cannot be written", out.display()));
    }
    if section.as_deref() == Some("sensors") {
        let table = filmgauge_tests::performance::sensors::table()?;
        return std::fs::write(&out, table).with_context(|| format!("{} cannot be written", out.display()));
    }
    if section.as_deref() == Some("spot") {
        let table = filmgauge_tests::performance::spot::table()?;
        return std::fs::write(&out, table).with_context(|| format!("{} cannot be written", out.display()));
    }
    let binary = std::env::current_exe()?.with_file_name("filmgauge");
    ensure!(binary.is_file(), "{} is missing; build filmgauge-cli in release first", binary.display());
    let mut rows = Vec::new();
    for n_frames in LENGTHS {
        rows.push(measured(&binary, n_frames)?);
    }
    let page = page(&rows)
        + "\n"
        + &filmgauge_tests::performance::footage::tables()?
        + "\n"
        + &filmgauge_tests::performance::texture::page()?
        + "\n"
        + &filmgauge_tests::performance::follow::table()?
        + "\n"
        + &filmgauge_tests::performance::spot::table()?
        + "\n"
        + &filmgauge_tests::performance::motion::table()?
        + "\n"
        + &filmgauge_tests::performance::sensors::table()?
        + "\n"
        + &filmgauge_tests::performance::report::table()?
        + "\n"
        + &filmgauge_tests::performance::marked::table()?
        + "\n"
        + &filmgauge_tests::performance::desk::table()?;
    std::fs::write(&out, page).with_context(|| format!("{} cannot be written", out.display()))
}

fn measured(binary: &Path, n_frames: u32) -> anyhow::Result<Measured> {
    let scratch = tempfile::tempdir()?;
    let folder = scratch.path().join("dossier");
    let mut scene = Scene::read(Path::new("sample-frames/hatchback.toml"))?;
    scene.cameras.truncate(1);
    let side = scene.cameras[0].id.clone();
    scene.targets.retain(|target| target.camera == side);
    scene.paints.retain(|paint| paint.camera == side);
    scene.dust.retain(|dust| dust.camera == side);
    scene.flash.bulbs.retain(|bulb| bulb.0 == side);
    scene.after_s = f64::from(n_frames) / scene.cameras[0].frames_per_s - scene.before_s;
    let h264 = Encoding::H264 { crf: 20, keyint: 50 };
    filmgauge_cli::rehearse(scene, &folder, h264, &filmgauge_dossier::Unwatched)?;
    let film = folder.join(format!("footage/{side}.mkv"));
    let start = Instant::now();
    let mut reader =
        filmgauge_footage::open(&folder, &format!("footage/{side}.mkv"), &ReadOptions::default())?;
    let mut decoded = 0;
    while reader.next_frame()?.is_some() {
        decoded += 1;
    }
    let decode_seconds = start.elapsed().as_secs_f64();
    let start = Instant::now();
    let peer =
        Command::new("ffmpeg").args(["-v", "error", "-i"]).arg(&film).args(["-f", "null", "-"]).status();
    ensure!(
        peer.context("ffmpeg is needed as the peer; run `cargo xtask setup`")?.success(),
        "ffmpeg failed"
    );
    let peer_seconds = start.elapsed().as_secs_f64();
    let start = Instant::now();
    let mut run =
        Command::new(binary).arg("measure").arg(&folder).stdout(std::process::Stdio::null()).spawn()?;
    let peak_mib = watched(&mut run)?;
    Ok(Measured {
        n_frames: decoded,
        seconds: start.elapsed().as_secs_f64(),
        peak_mib,
        decode_seconds,
        peer_seconds,
    })
}

/// Waits for a process and returns the most memory it held, MiB, from the system's own record of it.
fn watched(run: &mut std::process::Child) -> anyhow::Result<f64> {
    let record = format!("/proc/{}/status", run.id());
    let mut peak_kib = 0.0_f64;
    loop {
        if let Ok(text) = std::fs::read_to_string(&record) {
            let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
            let value = line.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok());
            peak_kib = peak_kib.max(value.unwrap_or(0.0));
        }
        if let Some(status) = run.try_wait()? {
            ensure!(status.code().is_some_and(|code| code < 2), "measure failed");
            return Ok(peak_kib / 1024.0);
        }
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
}

fn page(rows: &[Measured]) -> String {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let mut page =
        String::from("# Performance\n\nGenerated by `cargo xtask bench`; never typed by hand.\n\n");
    let _ = writeln!(
        page,
        "One side camera of 1280 x 448 px, H.264, twelve targets, {cores} cores.\n\
         `measure` is the whole chain: decoding, following, motion, error budget, a second look for the picture strip, sheet.\n\
         The peer is `ffmpeg -f null` on the same file in the same run; ratios are the result, seconds depend on the machine.\n\n\
         | frames | measure, s | frames/s | peak memory, MiB | decode alone, s | ffmpeg -f null, s | ffmpeg ÷ decode | ffmpeg ÷ measure |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |"
    );
    for row in rows {
        let _ = writeln!(
            page,
            "| {} | {:.2} | {:.0} | {:.0} | {:.2} | {:.2} | {:.2} | {:.2} |",
            row.n_frames,
            row.seconds,
            f64::from(row.n_frames) / row.seconds,
            row.peak_mib,
            row.decode_seconds,
            row.peer_seconds,
            row.peer_seconds / row.decode_seconds,
            row.peer_seconds / row.seconds
        );
    }
    page
}
