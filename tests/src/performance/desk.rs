//! Speed of the desk: stepping and jumping through a film, scrubbing over curves, start-up, memory; OpenCV's jumps beside.

use crate::footage_films::scattered;
use crate::peer::ask;
use crate::performance::footage::{FILMS, SOURCE, ffmpeg};
use anyhow::{Context, Result, ensure};
use eframe::egui::vec2;
use egui_kittest::Harness;
use filmgauge_desktop::{Desk, Places};
use filmgauge_results::{CameraSummary, Curve, CurveBand, CurvePoint, MarkRow, Panel, Results};
use serde_json::json;
use std::fmt::Write;
use std::path::Path;
use std::time::{Duration, Instant};

/// Steps and jumps of each film.
const STEPS: u32 = 120;
const JUMPS: usize = 80;
/// Pictures of the screen while scrubbing.
const SCRUBS: u32 = 200;
const N_CURVES: usize = 8;
const N_SAMPLES: usize = 20_000;
const N_CAMERAS: usize = 4;
const MOST_WAIT: Duration = Duration::from_secs(60);
/// Films of the table, by their place among those of the footage tables.
const SHOWN: [usize; 2] = [1, 0];

/// The table for the page.
///
/// # Errors
/// When films cannot be made, a frame does not come, or OpenCV does not answer.
pub fn table() -> Result<String> {
    let folder = tempfile::tempdir()?;
    for at in SHOWN {
        let (_, footage, coding) = FILMS[at];
        ffmpeg(folder.path(), &[&["-y", "-f", "lavfi", "-i", SOURCE], coding, &[footage]].concat())?;
    }
    let mut text = String::from(
        "## The desk\n\n1920 x 1080 px, 300 frames. From a key to the frame on the screen, without the graphics adapter's own time. \
         OpenCV sets the frame and reads it, in the same run.\n\n\
         | film | first picture, ms | step, median, ms | step, 95 % below, ms | jump, median, ms | jump, 95 % below, ms | OpenCV jump, 95 % below, ms | OpenCV ÷ desk |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for at in SHOWN {
        text.push_str(&film_row(folder.path(), FILMS[at].0, FILMS[at].1)?);
    }
    let (median, high) = scrubbing(folder.path())?;
    let _ = writeln!(
        text,
        "\nScrubbing over {N_CURVES} curves of {N_SAMPLES} samples with bands: {median:.1} ms a picture in the median, \
         95 % below {high:.1} ms (a screen of 60 pictures a second leaves 16.7 ms)."
    );
    let _ = writeln!(
        text,
        "\nMemory that {N_CAMERAS} open films take, after a walk through each: {:.0} MiB.",
        memory_mib(folder.path())?
    );
    Ok(text)
}

struct Bench {
    harness: Harness<'static, Desk>,
    _scratch: tempfile::TempDir,
}

impl Bench {
    /// A desk with a new dossier for these films.
    fn open(films: &Path, names: &[&str]) -> Result<Self> {
        let scratch = tempfile::tempdir()?;
        let dossier = scratch.path().join("dossier");
        let films: Vec<_> = names.iter().map(|name| films.join(name)).collect();
        std::fs::create_dir(&dossier)?;
        std::fs::write(dossier.join("dossier.toml"), filmgauge_dossier::new_dossier_text(&dossier, &films))?;
        let places = Places::within(scratch.path());
        let harness = Harness::builder().with_size(vec2(1480.0, 920.0)).build_eframe(move |creation| {
            let mut desk = Desk::new(&creation.egui_ctx, places);
            desk.open(&dossier);
            desk
        });
        Ok(Self { harness, _scratch: scratch })
    }

    /// Draws until `done`; ms that it took.
    fn until(&mut self, done: impl Fn(&Desk) -> bool) -> Result<f64> {
        let since = Instant::now();
        loop {
            self.picture();
            if done(self.harness.state()) {
                return Ok(1e3 * since.elapsed().as_secs_f64());
            }
            ensure!(since.elapsed() < MOST_WAIT, "the desk stands still: {:?}", self.harness.state().said());
            std::thread::sleep(Duration::from_micros(300));
        }
    }

    /// One picture of the screen, down to its triangles.
    fn picture(&mut self) {
        self.harness.step();
        let shapes = self.harness.output().shapes.clone();
        drop(self.harness.ctx.tessellate(shapes, 1.0));
    }
}

fn film_row(films: &Path, title: &str, footage: &str) -> Result<String> {
    let start = Instant::now();
    let mut bench = Bench::open(films, &[footage])?;
    bench.until(|desk| desk.frame_shown().is_some())?;
    let first_ms = 1e3 * start.elapsed().as_secs_f64();
    bench.until(|desk| !desk.is_busy())?;
    let mut go = |frame: u32| {
        bench.harness.state_mut().go_to(frame);
        bench.until(move |desk| desk.frame_shown() == Some(frame))
    };
    let steps = (1..=STEPS).map(&mut go).collect::<Result<Vec<_>>>()?;
    let reads: Vec<usize> = scattered(300).take(JUMPS).collect();
    let jumps = reads.iter().map(|&frame| go(frame as u32)).collect::<Result<Vec<_>>>()?;
    let answer = ask("jump_speed.py", &json!({ "path": films.join(footage), "reads": reads }))?;
    let peer: Vec<f64> = serde_json::from_value(answer["ms"].clone()).context("OpenCV gave no times")?;
    let (step, jump, peer) = (spread(steps), spread(jumps), spread(peer));
    Ok(format!(
        "| {title} | {first_ms:.0} | {:.1} | {:.1} | {:.1} | {:.1} | {:.1} | {:.1} |\n",
        step.0,
        step.1,
        jump.0,
        jump.1,
        peer.1,
        peer.1 / jump.1
    ))
}

/// Median, and the value below which 95 % lie.
fn spread(mut values: Vec<f64>) -> (f64, f64) {
    values.sort_by(f64::total_cmp);
    let at = |share: f64| values[((values.len() - 1) as f64 * share).round() as usize];
    (at(0.5), at(0.95))
}

fn scrubbing(films: &Path) -> Result<(f64, f64)> {
    let mut bench = Bench::open(films, &[FILMS[1].1])?;
    bench.until(|desk| !desk.is_busy())?;
    bench.harness.state_mut().show(curves("intra"));
    bench.until(|desk| desk.results().is_some())?;
    let mut times = Vec::new();
    for frame in 0..SCRUBS {
        bench.harness.state_mut().go_to(frame);
        let start = Instant::now();
        bench.picture();
        times.push(1e3 * start.elapsed().as_secs_f64());
    }
    Ok(spread(times))
}

/// Results that hold nothing but a clock and curves.
fn curves(camera: &str) -> Results {
    let mark = |frame: u32| MarkRow {
        camera: camera.into(),
        target: "C1".into(),
        frame,
        time_s: f64::from(frame) * 1e-3,
        x_px: 100.0,
        y_px: 100.0,
        sx_px: 0.01,
        sy_px: 0.01,
        rxy: 0.0,
        state: "found".into(),
        trust: 1.0,
        ..MarkRow::default()
    };
    let curve = |n: usize| {
        let point = |k: usize| {
            let time_s = 0.3 * k as f64 / N_SAMPLES as f64;
            let value = (40.0 * time_s + n as f64).sin() + 0.05 * ((k * 7919) % 101) as f64 / 101.0;
            CurvePoint { time_s, value: Some(value) }
        };
        Curve {
            label: format!("body {n}, film"),
            source: "film".into(),
            points: (0..N_SAMPLES).map(point).collect(),
            band: Some(CurveBand { half_width: vec![Some(0.1); N_SAMPLES] }),
        }
    };
    let panel = |at: usize| Panel {
        title: format!("Speed {at}"),
        unit: "m/s".into(),
        curves: (0..N_CURVES / 2).map(curve).collect(),
        markers: Vec::new(),
    };
    Results {
        cameras: vec![CameraSummary { id: camera.into(), ..CameraSummary::default() }],
        marks: (0..300).map(mark).collect(),
        panels: vec![panel(1), panel(2)],
        ..Results::default()
    }
}

/// Growth of this process's memory, MiB.
fn memory_mib(films: &Path) -> Result<f64> {
    let before = resident_mib()?;
    let names = [FILMS[1].1; N_CAMERAS];
    let mut bench = Bench::open(films, &names)?;
    bench.until(|desk| !desk.is_busy())?;
    for camera in 0..N_CAMERAS {
        for frame in (0..300).step_by(10) {
            bench.harness.state_mut().go_to(frame);
            bench.until(move |desk| desk.frame_shown() == Some(frame))?;
        }
        let next = eframe::egui::Key::K;
        bench.harness.key_press_modifiers(eframe::egui::Modifiers::COMMAND, next);
        bench.until(|desk| !desk.is_busy()).with_context(|| format!("camera {camera}"))?;
    }
    Ok(resident_mib()? - before)
}

fn resident_mib() -> Result<f64> {
    let text = std::fs::read_to_string("/proc/self/status")?;
    let line = text.lines().find_map(|line| line.strip_prefix("VmRSS:")).context("no memory figure")?;
    let kib: f64 = line.split_whitespace().next().context("no memory figure")?.parse()?;
    Ok(kib / 1024.0)
}
