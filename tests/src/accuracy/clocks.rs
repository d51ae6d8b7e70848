//! Rehearsals of clocks and scanned film: film speed, time zero, cameras against each other, weave and row time, each
//! recovered from rendered pictures and compared with the truth.

use anyhow::Context;
use filmgauge_geometry::{FixedMark, SteadyOptions, steady_table};
use filmgauge_proving::{
    ClockFilm, ClockSetting, FilmRun, Flash, Scene, WeaveSetup, clock_film, clock_scene,
};
use filmgauge_quantities::{FrameNumber, PixelPoint, TargetId, TargetKind};
use filmgauge_targets::{
    EdgeBox, EdgeOptions, FollowOptions, Follower, Outcome, TargetStart, locate_perforation,
};
use filmgauge_timing::{
    Edge, FilmSpeedOptions, FlashOptions, LagOptions, PulseOptions, Region, TimedSeries, fit_film_clock,
    flash_zero, lag_between, pulses, region_level,
};
use rayon::prelude::*;
use std::fmt::Write;

/// Half-width of a 95 % interval in standard uncertainties.
const WIDTH_95: f64 = 1.96;

/// What one quantity's errors come to over many rehearsals.
#[derive(Debug, Clone, PartialEq)]
pub struct ClockRow {
    /// What was recovered.
    pub what: &'static str,
    /// Unit of the figures.
    pub unit: &'static str,
    /// Errors compared.
    pub n: usize,
    /// Root mean square error.
    pub rms: f64,
    /// Greatest error.
    pub most: f64,
    /// Root mean square of the stated standard uncertainty.
    pub stated: f64,
    /// Share of truths inside the stated 95 % interval.
    pub inside: f64,
    /// Rehearsals in which it could not be recovered, with the first reason.
    pub refused: Vec<String>,
}

/// One error with its stated standard uncertainty.
type Pair = (f64, f64);

/// A quantity that is recovered: its name, its unit, and how a seed recovers it.
struct Case {
    what: &'static str,
    unit: &'static str,
    recover: fn(u64) -> anyhow::Result<Vec<Pair>>,
}

const CASES: [Case; 6] = [
    Case { what: "film time by a 100 Hz lamp, film gaining 200 /s2", unit: "us", recover: lamp_time },
    Case { what: "time zero by flash, exposure half the interval", unit: "us", recover: flash_instant },
    Case { what: "two cameras 0.4 frame apart, by a shared target", unit: "us", recover: camera_lag },
    Case { what: "weave, shift across", unit: "px", recover: |seed| weave(seed, 0) },
    Case { what: "weave, shift down", unit: "px", recover: |seed| weave(seed, 1) },
    Case { what: "weave, turn", unit: "mrad", recover: |seed| weave(seed, 2) },
];

/// Recovers every quantity in `n_seeds` rehearsals.
#[must_use]
pub fn clock_rows(n_seeds: u64) -> Vec<ClockRow> {
    CASES.iter().map(|case| row(case, n_seeds)).collect()
}

/// The table as Markdown.
#[must_use]
pub fn clocks_section(n_seeds: u64) -> String {
    let mut text = format!(
        "## Clocks and scanned film\n\n{n_seeds} rehearsals of each, pictures of 160 x 96 px at 1000 frames/s, noise 2 grey levels.\n\n\
         | what | unit | errors | RMS | greatest | stated u | inside 95 % | refused |\n\
         | --- | --- | ---: | ---: | ---: | ---: | ---: | --- |\n"
    );
    for row in clock_rows(n_seeds) {
        let refused = match row.refused.first() {
            None => "0".to_owned(),
            Some(first) => format!("{}: {first}", row.refused.len()),
        };
        let _ = writeln!(
            text,
            "| {} | {} | {} | {:.4} | {:.4} | {:.4} | {:.1} % | {refused} |",
            row.what,
            row.unit,
            row.n,
            row.rms,
            row.most,
            row.stated,
            100.0 * row.inside
        );
    }
    text
}

#[expect(clippy::cast_precision_loss, reason = "counts of errors")]
fn row(case: &Case, n_seeds: u64) -> ClockRow {
    let outcomes: Vec<anyhow::Result<Vec<Pair>>> =
        (0..n_seeds).into_par_iter().map(|seed| (case.recover)(1000 + seed)).collect();
    let pairs: Vec<Pair> = outcomes.iter().flatten().flatten().copied().collect();
    let n = pairs.len() as f64;
    let mean_square = |of: fn(&Pair) -> f64| pairs.iter().map(|pair| of(pair).powi(2)).sum::<f64>() / n;
    ClockRow {
        what: case.what,
        unit: case.unit,
        n: pairs.len(),
        rms: mean_square(|pair| pair.0).sqrt(),
        most: pairs.iter().map(|pair| pair.0.abs()).fold(0.0, f64::max),
        stated: mean_square(|pair| pair.1).sqrt(),
        inside: pairs.iter().filter(|(error, u)| error.abs() <= WIDTH_95 * u).count() as f64 / n,
        refused: outcomes
            .iter()
            .filter_map(|outcome| Some(format!("{:#}", outcome.as_ref().err()?)))
            .collect(),
    }
}

/// Times between frames by the lamp against the true ones, every tenth frame from the first mark on, us.
fn lamp_time(seed: u64) -> anyhow::Result<Vec<Pair>> {
    let mut scene = clock_scene(seed, 1);
    scene.cameras[0].film = Some(FilmRun { frames_per_s: 980.0, accel_per_s2: 200.0 });
    let film = clock_film(&scene, 0)?;
    let lamp = scene.cameras[0].lamp.context("the scene has a lamp")?;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "places in a small picture")]
    let inside = |at: f64| at.ceil() as usize + 1;
    let region = Region { x: inside(lamp.at_px[0]), y: inside(lamp.at_px[1]), width: 11, height: 11 };
    let levels: Vec<f64> =
        film.frames.iter().filter_map(|frame| region_level(&frame.view(), &region)).collect();
    let options = PulseOptions {
        exposure_share: scene.cameras[0].exposure_s * 990.0,
        full_scale: Some(255.0),
        ..PulseOptions::default()
    };
    let marks = pulses(&levels, &options)?.edges(Edge::On);
    let clock = fit_film_clock(&marks, lamp.frequency_hz, &FilmSpeedOptions::default())?;
    let [first, last] = clock.marked().context("marks were fitted")?;
    let (first, last) = (whole(first.ceil()), whole(last.floor()));
    let pair = |frame: usize| {
        let (found_s, u_s) = clock.interval_s(place(first), place(frame));
        let true_s = film.truth.frames[frame].mid_s - film.truth.frames[first].mid_s;
        (1e6 * (found_s - true_s), 1e6 * u_s)
    };
    Ok((first + 10..=last).step_by(10).map(pair).collect())
}

/// Time zero by the flash against the true one, us.
fn flash_instant(seed: u64) -> anyhow::Result<Vec<Pair>> {
    let scene = clock_scene(seed, 1);
    let film = clock_film(&scene, 0)?;
    // Plain ground that the flash lights, away from its bulbs, which are at the limit of the picture.
    let region = Region { x: 20, y: 70, width: 40, height: 20 };
    let levels: Vec<f64> =
        film.frames.iter().filter_map(|frame| region_level(&frame.view(), &region)).collect();
    let options =
        FlashOptions { exposure_share: scene.cameras[0].exposure_s * 1000.0, ..FlashOptions::default() };
    let zero = flash_zero(&levels, &options)?;
    let interval_s = film.truth.frames[1].mid_s - film.truth.frames[0].mid_s;
    let found_s = film.truth.frames[0].mid_s + zero.frame * interval_s;
    Ok(vec![(1e6 * (found_s - film.truth.flash_s), 1e6 * zero.u_frames * interval_s)])
}

/// What the second camera's clock reads more than the first's, each counting from its own frame 0, us.
fn camera_lag(seed: u64) -> anyhow::Result<Vec<Pair>> {
    let mut scene = clock_scene(seed, 2);
    for (camera, phase) in scene.cameras.iter_mut().zip([0.0, 0.4]) {
        camera.clock = ClockSetting { phase_frames: Some(phase), drift: Some(0.0) };
    }
    // The flash would hide the target in some frames; the lag must do without it.
    scene.flash = Flash { gain: 0.0, ..scene.flash.clone() };
    let films = [clock_film(&scene, 0)?, clock_film(&scene, 1)?];
    let tracks = [followed(&scene, &films[0])?, followed(&scene, &films[1])?];
    let [first, second] =
        [&tracks[0], &tracks[1]].map(|(times_s, x, u)| TimedSeries { times_s, values: x, u });
    let lag = lag_between(&first, &second, &LagOptions { search_s: 0.005, ..LagOptions::default() })?;
    let true_s = films[0].truth.frames[0].mid_s - films[1].truth.frames[0].mid_s;
    Ok(vec![(1e6 * (lag.lag_s - true_s), 1e6 * lag.u_s)])
}

/// Target C1 through one film: times from frame 0, columns and their standard uncertainties.
fn followed(scene: &Scene, film: &ClockFilm) -> anyhow::Result<(Vec<f64>, Vec<f64>, Vec<f64>)> {
    let truth: Vec<_> = film.marks.iter().filter(|mark| mark.target == "C1" && mark.visible).collect();
    let start = truth.first().context("C1 is in view")?;
    let target = TargetStart {
        id: TargetId::new("C1")?,
        body: None,
        kind: TargetKind::Quadrant,
        start_frame: FrameNumber(start.frame),
        start: PixelPoint::new(start.x_px, start.y_px),
        radius_px: start.radius_px,
        deforms: false,
    };
    let mut follower = Follower::new(vec![target], FollowOptions::default())?;
    let interval_s = 1.0 / scene.cameras[0].frames_per_s;
    let (mut times_s, mut x, mut u) = (Vec::new(), Vec::new(), Vec::new());
    for (number, frame) in (0_u32..).zip(&film.frames) {
        let outcomes = follower.step(FrameNumber(number), &frame.view(), false);
        if let Some(Outcome::Mark(mark)) = outcomes.first() {
            times_s.push(f64::from(number) * interval_s);
            x.push(mark.centre.x);
            u.push(mark.cov.xx.sqrt());
        }
    }
    Ok((times_s, x, u))
}

/// Shift (px) or turn (mrad) of each frame against frame 0, by the film's holes, every fifth frame.
fn weave(seed: u64, axis: usize) -> anyhow::Result<Vec<Pair>> {
    let mut scene = clock_scene(seed, 1);
    scene.cameras[0].weave = Some(WeaveSetup { shift_sd_px: 0.6, turn_sd_deg: 0.05 });
    let film = clock_film(&scene, 0)?;
    let holes: Vec<EdgeBox> = scene.cameras[0]
        .perforations
        .iter()
        .map(|hole| EdgeBox {
            left: hole.at_px[0],
            top: hole.at_px[1],
            right: hole.at_px[0] + hole.size_px[0],
            bottom: hole.at_px[1] + hole.size_px[1],
        })
        .collect();
    // Small holes near the picture's border, and a weave of about a pixel.
    let options = EdgeOptions { search_px: 2.5, corner_px: 1.5, reach_px: 3.0, ..EdgeOptions::default() };
    let marks: Vec<Vec<Option<FixedMark>>> = film
        .frames
        .iter()
        .map(|frame| {
            let read = |hole: &EdgeBox| {
                let found = locate_perforation(&frame.view(), hole, &options).ok()?;
                Some(FixedMark { point: found.centre, cov: found.cov })
            };
            holes.iter().map(read).collect()
        })
        .collect();
    let (steps, _) = steady_table(&marks[0], &marks, &SteadyOptions::default());
    let mut pairs = Vec::new();
    for (frame, step) in steps.iter().enumerate().skip(5).step_by(5) {
        let Ok(step) = step else { continue };
        let (now, first) = (&film.truth.frames[frame], &film.truth.frames[0]);
        // Where the pivot, a place of frame 0, has gone.
        let turn = now.weave_turn_rad - first.weave_turn_rad;
        let on_film = step.pivot().moved(-first.weave_dx_px, -first.weave_dy_px);
        let gone = now.stored_from_film(on_film, film.truth.middle);
        let back = first.stored_from_film(on_film, film.truth.middle);
        let [dx_px, dy_px, turn_rad] = step.shift_and_turn();
        let (found, truth, scale) = match axis {
            0 => (dx_px, gone.x - back.x, 1.0),
            1 => (dy_px, gone.y - back.y, 1.0),
            _ => (turn_rad, turn, 1e3),
        };
        pairs.push((scale * (found - truth), scale * step.cov()[axis][axis].sqrt()));
    }
    Ok(pairs)
}

#[expect(clippy::cast_precision_loss, reason = "frame numbers of a short film")]
fn place(frame: usize) -> f64 {
    frame as f64
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "frame numbers of a short film")]
fn whole(frame: f64) -> usize {
    frame.max(0.0) as usize
}
