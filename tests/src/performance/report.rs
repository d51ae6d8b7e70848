//! Time and memory of sheet, tables and workbook for a long film.

use anyhow::{Context, Result};
use filmgauge_results::{Curve, CurveBand, CurvePoint, MarkRow, MotionRow, Panel, Results};
use std::fmt::Write;
use std::path::Path;
use std::time::{Duration, Instant, SystemTime};

const N_FRAMES: u32 = 20_000;
const N_TARGETS: u32 = 12;
const N_BODIES: u32 = 3;
/// Endings of files, and what the page calls them.
const KINDS: [(&str, &str); 4] =
    [("csv", "CSV"), ("parquet", "Parquet"), ("json", "JSON"), ("xlsx", "workbook")];

/// The table for the page.
///
/// # Errors
/// When the results cannot be written.
pub fn table() -> Result<String> {
    let results = long_film();
    let folder = tempfile::tempdir()?;
    let (page_s, page) = timed(|| filmgauge_report::sheet_html(&results))?;
    let (paper_s, paper) = timed(|| filmgauge_report::sheet_pdf(&results))?;
    forget_peak();
    let before = status_mib("VmRSS:")?;
    let start = SystemTime::now();
    let (whole_s, written) = timed(|| filmgauge_report::write_results(folder.path(), &results, None))?;
    let peak = status_mib("VmHWM:")? - before;
    let mut text = format!(
        "## Report and exports\n\n{N_FRAMES} frames, {N_TARGETS} targets, {N_BODIES} bodies: {} marks and {} rows of motion. \
         Every file is synced to the disk; times depend on the machine.\n\n| what | s | MiB |\n| --- | --- | --- |\n",
        results.marks.len(),
        results.motion.len()
    );
    let mib = |bytes: u64| bytes as f64 / f64::from(1 << 20);
    let mut row = |what: &str, seconds: f64, bytes: u64| {
        let _ = writeln!(text, "| {what} | {seconds:.2} | {:.1} |", mib(bytes));
    };
    row("sheet as page", page_s, page.len() as u64);
    row("sheet on paper", paper_s, paper.len() as u64);
    for (ending, name) in KINDS {
        let (seconds, bytes) = of_kind(&written.paths, ending, start)?;
        row(name, seconds, bytes);
    }
    let all: u64 = written.paths.iter().filter_map(|path| Some(path.metadata().ok()?.len())).sum();
    row("all of it", whole_s, all);
    let _ = writeln!(text, "\nPeak memory that writing took, beside the results themselves: {peak:.0} MiB.");
    Ok(text)
}

fn timed<T, E: std::error::Error + Send + Sync + 'static>(
    act: impl FnOnce() -> Result<T, E>,
) -> Result<(f64, T)> {
    let start = Instant::now();
    let made = act()?;
    Ok((start.elapsed().as_secs_f64(), made))
}

/// Time between each file of a kind and the one before it, and their size.
fn of_kind(paths: &[std::path::PathBuf], ending: &str, start: SystemTime) -> Result<(f64, u64)> {
    let (mut taken, mut bytes, mut before) = (Duration::ZERO, 0, start);
    for path in paths {
        let about = path.metadata()?;
        let done = about.modified()?;
        if is_of(path, ending) {
            taken += done.duration_since(before).unwrap_or_default();
            bytes += about.len();
        }
        before = done;
    }
    Ok((taken.as_secs_f64(), bytes))
}

fn is_of(path: &Path, ending: &str) -> bool {
    path.extension().is_some_and(|extension| extension == ending)
        && path.file_stem().is_some_and(|stem| stem != "findings" || ending != "json")
}

/// Peaks are counted from here on, where the system allows it.
pub(super) fn forget_peak() {
    let _ = std::fs::write("/proc/self/clear_refs", "5");
}

pub(super) fn status_mib(name: &str) -> Result<f64> {
    let text = std::fs::read_to_string("/proc/self/status")?;
    let line = text.lines().find_map(|line| line.strip_prefix(name)).context("no memory figure")?;
    let kib: f64 = line.split_whitespace().next().context("no memory figure")?.parse()?;
    Ok(kib / 1024.0)
}

fn long_film() -> Results {
    let value = |n: u32| f64::from(n.wrapping_mul(2_654_435_761)) / 4e9;
    let mark = |target: u32, frame: u32| MarkRow {
        camera: "side".into(),
        target: format!("C{target}"),
        frame,
        time_s: f64::from(frame) * 1e-4,
        x_px: 640.0 * value(frame),
        y_px: 400.0 * value(frame + 1),
        sx_px: 0.008,
        sy_px: 0.009,
        state: "found".into(),
        trust: 1.0,
        ..MarkRow::default()
    };
    let motion = |body: u32, frame: u32| MotionRow {
        time_s: f64::from(frame) * 1e-4,
        camera: "side".into(),
        body: format!("body {body}"),
        x_m: Some(value(frame)),
        z_m: Some(value(frame + 1)),
        pitch_deg: Some(value(frame + 2)),
        vx_m_s: Some(value(frame + 3)),
        u_x_m: Some(value(frame + 4)),
        u_vx_m_s: Some(value(frame + 5)),
        state: "measured".into(),
        ..MotionRow::default()
    };
    let curve = |body: u32| Curve {
        label: format!("body {body}, film"),
        source: "film".into(),
        points: (0..N_FRAMES)
            .map(|frame| CurvePoint { time_s: f64::from(frame) * 1e-4, value: Some(value(frame)) })
            .collect(),
        band: Some(CurveBand { half_width: vec![Some(0.05); N_FRAMES as usize] }),
    };
    let panel = |n: u32| Panel {
        title: format!("Diagram {n}"),
        unit: "m".into(),
        curves: (0..N_BODIES).map(curve).collect(),
        markers: Vec::new(),
    };
    let marks =
        (0..N_TARGETS).flat_map(|target| (0..N_FRAMES).map(move |frame| mark(target, frame))).collect();
    let motion = (0..N_BODIES).flat_map(|body| (0..N_FRAMES).map(move |frame| motion(body, frame))).collect();
    Results { marks, motion, panels: (0..4).map(panel).collect(), ..Results::default() }
}
