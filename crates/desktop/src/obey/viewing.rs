//! What is looked at: camera, frame, instant, target, line, zoom.

use crate::command::Command;
use crate::curves::Curves;
use crate::film::Fit;
use crate::form;
use crate::session::{Playing, Session, TargetRef};
use eframe::egui::{Rect, vec2};
use std::path::PathBuf;
use std::time::Instant;

/// Slowest and fastest playing, frames a second.
const SPEEDS: std::ops::RangeInclusive<f64> = 0.1..=20_000.0;

/// Carries out what only changes the view; a sentence to say, if any.
pub(super) fn view(session: &mut Session, curves: &Curves, command: Command) -> Option<String> {
    match command {
        Command::Camera(index) => camera(session, index),
        Command::NextCamera => {
            let n = session.document().camera.len().max(1);
            camera(session, (session.view.camera + 1) % n);
        }
        Command::Frame(frame) => look_at(session, frame),
        Command::Evidence(id, frame) => evidence(session, &id, frame),
        Command::Step(n) => step(session, n),
        Command::First => look_at(session, 0),
        Command::Last => look_at(session, u32::MAX),
        Command::Time(time_s) => {
            let frame = session.clock_of(session.camera_id())?.frame_at(time_s)?;
            look_at(session, frame);
        }
        Command::Play(backwards) => play(session, backwards),
        Command::PlaySpeed(speed) => {
            session.view.play_speed = speed.clamp(*SPEEDS.start(), *SPEEDS.end());
            restart(session);
        }
        Command::InStep => {
            session.view.in_step = !session.view.in_step;
            let said = "Other cameras follow once their clocks are known: measure first.";
            return (session.view.in_step && session.time_s().is_none()).then(|| said.to_owned());
        }
        Command::NextTarget(forward) => next_target(session, forward),
        Command::Choose(target) => session.view.target = target,
        Command::Line(key) => line(session, key),
        Command::NextNeed => return next_need(session),
        other => seen(session, curves, other),
    }
    None
}

/// How things are seen and what is placed next.
fn seen(session: &mut Session, curves: &Curves, command: Command) {
    match command {
        Command::Whole => {
            let camera = session.camera_id().to_owned();
            session.view.fits.remove(&camera);
        }
        Command::Zoom(factor) => zoom(session, factor),
        Command::Fit(camera, fit) => {
            session.view.fits.insert(camera, fit);
        }
        Command::Levels(brightness, contrast) => {
            (session.view.brightness, session.view.contrast) = (brightness, contrast);
        }
        Command::Overlay(name) => toggle(&mut session.view.hidden, name),
        Command::Kind(kind) => session.view.kind = kind,
        Command::OnBody(body) => session.view.body = Some(body),
        Command::Radius(radius_px) => session.view.radius_px = radius_px.clamp(3.0, 200.0),
        Command::Layout(path) => {
            session.view.layout =
                Some(PathBuf::from(path.trim())).filter(|path| !path.as_os_str().is_empty());
        }
        Command::Archive(path) => session.view.archive = path,
        Command::LampHz(hz) => session.view.lamp_hz = Some(hz),
        Command::LensBoard(wish) => session.view.lens_board = wish,
        Command::Pending(pending) => session.view.pending = Some(pending),
        Command::Offset(offset_m, u_m) => session.view.offset_m = (offset_m, u_m),
        Command::BoardLength(board_m) => session.view.board_m = board_m,
        Command::WholeTime => session.view.whole_time = true,
        Command::Curves(title) => {
            let mut shown: std::collections::BTreeSet<String> =
                curves.titles(session).into_iter().filter(|(_, is_shown)| *is_shown).map(|it| it.0).collect();
            toggle(&mut shown, title);
            session.view.curves = Some(shown);
        }
        _ => {}
    }
}

fn toggle<T: Ord>(set: &mut std::collections::BTreeSet<T>, name: T) {
    if !set.remove(&name) {
        set.insert(name);
    }
}

/// Looks at a frame; beyond the last means the last.
pub(super) fn look_at(session: &mut Session, frame: u32) {
    let n_frames = session.reel().map_or(0, crate::film::Reel::n_frames);
    let frame = if n_frames > 0 { frame.min(n_frames - 1) } else { 0 };
    let camera = session.camera_id().to_owned();
    session.view.frames.insert(camera, frame);
    let placing = session.view.placing.as_mut();
    // A point belongs to the frame in which it was pointed at.
    if let Some(placing) = placing.filter(|placing| placing.purpose.is_fitted()) {
        (placing.point, placing.fitted) = (None, None);
    }
}

fn step(session: &mut Session, n: i64) {
    let frame = i64::from(session.frame()) + n;
    session.view.playing = None;
    look_at(session, u32::try_from(frame.max(0)).unwrap_or(u32::MAX));
}

/// Another camera, at the same instant where clocks are known.
fn camera(session: &mut Session, index: usize) {
    if index >= session.document().camera.len() {
        return;
    }
    let frame = session.frame_of(index);
    look_through(session, index);
    if let Some(frame) = frame {
        look_at(session, frame);
    }
}

/// Looks through a camera. What was being placed belongs to the picture of the other one and is given up.
pub(super) fn look_through(session: &mut Session, index: usize) {
    if session.view.camera != index {
        session.view.camera = index;
        (session.view.playing, session.view.placing) = (None, None);
    }
}

fn play(session: &mut Session, backwards: bool) {
    let is_same = session.view.playing.is_some();
    let from = session.frame();
    session.view.playing = (!is_same).then(|| Playing { backwards, since: Instant::now(), from });
}

/// Goes on playing from here, after a change of speed.
fn restart(session: &mut Session) {
    let from = session.frame();
    if let Some(playing) = &mut session.view.playing {
        (playing.since, playing.from) = (Instant::now(), from);
    }
}

/// The frame that playing has come to.
pub(super) fn tend_playing(session: &mut Session, now: Instant) {
    let Some(playing) = session.view.playing else { return };
    let n = (now.saturating_duration_since(playing.since).as_secs_f64() * session.view.play_speed) as i64;
    let frame = i64::from(playing.from) + if playing.backwards { -n } else { n };
    let last = i64::from(session.reel().map_or(0, crate::film::Reel::n_frames)) - 1;
    look_at(session, frame.clamp(0, last.max(0)) as u32);
    if frame < 0 || frame > last {
        session.view.playing = None;
    }
}

fn next_target(session: &mut Session, forward: bool) {
    let camera = session.camera_id().to_owned();
    let ids: Vec<String> = session.targets_of(&camera).map(|(_, target)| target.id.clone()).collect();
    if ids.is_empty() {
        return;
    }
    let at = session.chosen().and_then(|(_, target)| ids.iter().position(|id| *id == target.id));
    let next = match (at, forward) {
        (None, true) => 0,
        (None, false) => ids.len() - 1,
        (Some(at), true) => (at + 1) % ids.len(),
        (Some(at), false) => (at + ids.len() - 1) % ids.len(),
    };
    session.view.target = Some(TargetRef { camera, target: ids[next].clone() });
}

/// Opens a line of the form, and looks at what shows it best.
fn line(session: &mut Session, key: String) {
    let shown = form::lines(session).into_iter().find(|line| line.key == key);
    session.view.line = key;
    if let Some((camera, frame)) = shown.and_then(|line| line.evidence) {
        evidence(session, &camera, frame);
    }
}

/// Looks at a frame of a camera.
fn evidence(session: &mut Session, camera: &str, frame: u32) {
    if let Some(index) = session.document().camera.iter().position(|known| known.id == camera) {
        look_through(session, index);
        look_at(session, frame);
    }
}

/// The line after the chosen one that needs something.
fn next_need(session: &mut Session) -> Option<String> {
    let lines = form::lines(session);
    let at = lines.iter().position(|line| line.key == session.view.line).map_or(0, |at| at + 1);
    let next = lines[at..].iter().chain(&lines[..at]).find(|line| line.state.is_need());
    let Some(next) = next else { return Some("Nothing is missing.".to_owned()) };
    let (key, said) = (next.key.clone(), format!("{}: {}", next.title, next.state.text()));
    line(session, key);
    session.view.wants_field = true;
    Some(said)
}

/// Zooms about the chosen target, or about the middle of what is seen.
fn zoom(session: &mut Session, factor: f32) {
    let Some(frame) = session.reel().and_then(|reel| reel.latest()) else { return };
    let view = frame.picture.view();
    let camera = session.camera_id().to_owned();
    let fit = session.view.fits.get(&camera).copied().unwrap_or_default();
    let size = [view.width(), view.height()];
    // A whole picture has no zoom of its own until it lies somewhere: a place of its own size stands in.
    let place = Rect::from_min_size(Default::default(), vec2(size[0] as f32, size[1] as f32));
    let on = fit.on_screen(size, place);
    let chosen = session.view.target.clone().filter(|chosen| chosen.camera == camera);
    let about = chosen.and_then(|it| session.place_of(&it.camera, &it.target, session.frame()));
    let middle = on.px_from_screen(place.center());
    let fit: Fit = on.centred_on(about.unwrap_or(middle), factor);
    session.view.fits.insert(camera, fit);
}
