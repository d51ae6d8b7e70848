//! Speed of following: a film of 1080 rows with many targets, decoded alone, decoded and followed, and read and followed
//! by OpenCV's pyramidal Lucas-Kanade, all in one run.

use crate::accuracy::follow::{Canvas, Disc, PICTURE_U_PX, grainy};
use crate::peer::ask;
use anyhow::{Context, Result, ensure};
use filmgauge_footage::{Encoding, ReadOptions, Writer, open};
use filmgauge_quantities::{BodyId, FrameNumber, PixelPoint, TargetId, TargetKind};
use filmgauge_targets::{FollowOptions, Follower, LocateOptions, TargetStart};
use serde_json::json;
use std::fmt::Write;
use std::path::Path;
use std::sync::mpsc::sync_channel;
use std::time::Instant;

const WIDTH: usize = 1920;
const HEIGHT: usize = 1080;
const RADIUS_PX: f64 = 12.0;
const N_FRAMES: u32 = 240;

/// Numbers of targets.
const COUNTS: [usize; 4] = [1, 5, 20, 40];

/// Each time is the least of so many runs.
const RUNS: usize = 3;

/// The section on following of `docs/performance.md`.
///
/// # Errors
/// When the film cannot be made or read, or the peer fails.
pub fn table() -> Result<String> {
    let folder = tempfile::tempdir()?;
    let name = "follow.mkv";
    render(&folder.path().join(name))?;
    let decode_s = least(|| decode(folder.path(), name))?;
    let points: Vec<[f64; 2]> = (0..20).map(|k| place(k, 0)).map(|place| [place.x, place.y]).collect();
    let question = json!({
        "film": folder.path().join(name), "points": points, "window": 31, "runs": RUNS,
    });
    let peer = ask("follow.py", &question)?;
    let peer_s = peer["seconds"].as_f64().context("OpenCV gave no time")?;
    let mut text = format!(
        "## Following\n\n{WIDTH} x {HEIGHT} px, {N_FRAMES} frames, H.264, targets of {RADIUS_PX:.0} px radius, {} cores. \
         OpenCV reads the same film and follows 20 points by pyramidal Lucas-Kanade, window 31 px.\n\n\
         | targets | decode and follow, frames/s | ÷ decode alone ({:.0} frames/s) | cost of following, µs a target and frame | ÷ OpenCV ({:.0} frames/s) |\n\
         | --- | --- | --- | --- | --- |\n",
        std::thread::available_parallelism().map_or(1, usize::from),
        f64::from(N_FRAMES) / decode_s,
        f64::from(N_FRAMES) / peer_s,
    );
    for count in COUNTS {
        let mut busy_s = f64::INFINITY;
        let both_s = least(|| {
            let (all_s, follow_s) = follow(folder.path(), name, count)?;
            busy_s = busy_s.min(follow_s);
            Ok(all_s)
        })?;
        let each = f64::from(N_FRAMES) * f64::from(u32::try_from(count)?);
        let _ = writeln!(
            text,
            "| {count} | {:.0} | {:.2} | {:.0} | {:.2} |",
            f64::from(N_FRAMES) / both_s,
            decode_s / both_s,
            1e6 * busy_s / each,
            peer_s / both_s
        );
    }
    Ok(text)
}

/// Place of a target: four to a body, bodies side by side, all moving to the right.
fn place(k: usize, frame: u32) -> PixelPoint {
    let (column, row) = ((k % 8) as f64, (k / 8) as f64);
    let way = 2.3 * f64::from(frame);
    PixelPoint::new(
        120.3 + 160.0 * column + way,
        140.6 + 190.0 * row + 12.0 * (0.02 * f64::from(frame)).sin(),
    )
}

fn render(path: &Path) -> Result<()> {
    let ground = Canvas::uneven(WIDTH, HEIGHT, 0.7);
    let mut writer = Writer::create(path, WIDTH, HEIGHT, 8, Encoding::H264 { crf: 20, keyint: 60 }, 30)?;
    for frame in 0..N_FRAMES {
        let mut canvas = ground.clone();
        for k in 0..40 {
            canvas.paint(&Disc {
                centre: place(k, frame),
                radius_px: RADIUS_PX,
                angle_rad: 0.1 * k as f64,
                dark: 45.0,
                bright: 195.0,
            });
        }
        writer.put(&grainy(&canvas, u64::from(frame))?.view())?;
    }
    writer.finish()?;
    Ok(())
}

fn decode(base: &Path, name: &str) -> Result<f64> {
    let begin = Instant::now();
    let mut reader = open(base, name, &ReadOptions::default())?;
    let mut n_frames = 0;
    while reader.next_frame()?.is_some() {
        n_frames += 1;
    }
    ensure!(n_frames == N_FRAMES, "{n_frames} frames decoded");
    Ok(begin.elapsed().as_secs_f64())
}

/// Seconds of all, and of the follower alone.
fn follow(base: &Path, name: &str, count: usize) -> Result<(f64, f64)> {
    let starts = (0..count).map(start).collect::<Result<Vec<_>>>()?;
    let locate = LocateOptions { picture_u_px: PICTURE_U_PX, ..LocateOptions::default() };
    let options = FollowOptions { locate, ..FollowOptions::default() };
    let mut follower = Follower::new(starts, options)?;
    let begin = Instant::now();
    let mut reader = open(base, name, &ReadOptions::default())?;
    let (sender, receiver) = sync_channel(4);
    let mut busy_s = 0.0;
    std::thread::scope(|scope| {
        scope.spawn(move || {
            while let Ok(Some(frame)) = reader.next_frame() {
                if sender.send(frame).is_err() {
                    return;
                }
            }
        });
        for frame in receiver {
            let start = Instant::now();
            follower.step(frame.number, &frame.picture.view(), frame.damaged);
            busy_s += start.elapsed().as_secs_f64();
        }
    });
    let start = Instant::now();
    let outcomes = follower.finish();
    busy_s += start.elapsed().as_secs_f64();
    let seconds = begin.elapsed().as_secs_f64();
    for (k, track) in outcomes.iter().enumerate() {
        let n_marks = track.iter().filter(|outcome| outcome.measured().is_some()).count();
        ensure!(n_marks * 100 >= 99 * N_FRAMES as usize, "target {k}: {n_marks} marks of {N_FRAMES}");
    }
    Ok((seconds, busy_s))
}

fn start(k: usize) -> Result<TargetStart> {
    Ok(TargetStart {
        id: TargetId::new(&format!("T{k}"))?,
        body: Some(BodyId::new(&format!("B{}", k / 4))?),
        kind: TargetKind::Quadrant,
        start_frame: FrameNumber(0),
        start: place(k, 0),
        radius_px: RADIUS_PX,
        deforms: false,
    })
}

fn least(mut run: impl FnMut() -> Result<f64>) -> Result<f64> {
    (0..RUNS).try_fold(f64::INFINITY, |least, _| Ok(run()?.min(least)))
}
