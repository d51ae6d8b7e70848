//! The analyst's inputs: what a careful person would have written down, with reading errors of the stated size.

use crate::clock::FrameClock;
use crate::drawn::{Drawn, offset_index};
use crate::dynamics::Truth;
use crate::marks::{TruthMark, truth_marks};
use crate::random::Stream;
use crate::scene::{BodyName, CameraSetup, FieldOrder, Scene, TargetPaint};
use crate::view::{Sighted, View};
use filmgauge_quantities::ViewPlane;
use std::fmt::Write;

/// How far a person's click may lie from a target's centre along each axis, px.
const CLICK_PX: f64 = 0.7;
/// Standard uncertainty of how the boards of two cameras stand along the path, m.
const BOARDS_U_M: f64 = 0.005;

/// The lens file of one camera, with drawn errors of the stated size; empty for a camera that the scene does not have.
#[must_use]
pub fn lens_toml(scene: &Scene, camera_index: usize) -> String {
    scene.camera(camera_index).map_or_else(
        |_| String::new(),
        |camera| Drawn::new(scene, camera, camera_index).stated_lens.to_toml(),
    )
}

/// The text of `dossier.toml`; `footage` names each camera's footage as the dossier should have it, in the scene's
/// order (`footage/<camera>.mkv` where it is short). Lens files are expected at `lenses/<camera>.toml`.
#[must_use]
pub fn dossier_toml(scene: &Scene, truth: &Truth, footage: &[String]) -> String {
    let mut text = String::new();
    head(&mut text, scene);
    for (index, camera) in scene.cameras.iter().enumerate() {
        let usual = format!("footage/{}.mkv", camera.id);
        self::camera(&mut text, scene, camera, index, footage.get(index).unwrap_or(&usual));
    }
    for (index, camera) in scene.cameras.iter().enumerate() {
        targets(&mut text, scene, truth, camera, index);
    }
    bodies(&mut text, scene);
    channels(&mut text, scene);
    crush(&mut text, scene);
    text
}

fn head(text: &mut String, scene: &Scene) {
    let _ = writeln!(text, "schema = 1\n\n[test]\nid = {:?}\ntitle = {:?}", scene.id, scene.title);
    let _ = writeln!(text, "axes = \"iso8855\"\nunits = \"si\"");
    if scene.flash.delay_s == 0.0 {
        // The contact switch fires the flash: time zero is contact.
        let _ = writeln!(text, "contact = \"zero\"");
    }
    if let Some(point) = &scene.climb_point {
        let _ = writeln!(text, "climb_point = {point:?}");
    }
}

fn camera(text: &mut String, scene: &Scene, camera: &CameraSetup, index: usize, footage: &str) {
    // The ends are read in the first frame, wherever weave and shake have put it.
    let clock = FrameClock::new(scene, camera, index);
    let still = View::new(scene, camera);
    let first = still.of_exposure((scene, camera, index), clock.exposure(0), clock.mid_s(0));
    let view = first.unwrap_or(still);
    let drawn = Drawn::new(scene, camera, index);
    let ends = drawn
        .board_ends_m(camera)
        .map(|end| view.pixel(Sighted { x_m: end[0], second_m: end[1], offset_m: 0.0 }));
    let [from, to] = drawn.read_ends(ends);
    let word = if camera.view == ViewPlane::Side { "side" } else { "overhead" };
    let _ = writeln!(text, "\n[[camera]]\nid = {:?}\nview = \"{word}\"\nfootage = {footage:?}", camera.id);
    let _ = writeln!(
        text,
        "speed = {{ frames_per_s = {:?}, source = \"camera record\", relative_uncertainty = {:?}{} }}",
        camera.frames_per_s,
        camera.speed_relative_u,
        timing_marks(camera)
    );
    let _ = writeln!(text, "exposure_s = {:?}\nzero = {{ by = \"flash\" }}", camera.exposure_s);
    film_keys(text, camera);
    if let Some(key) = depth_key(scene, camera) {
        let _ = writeln!(text, "{key}");
    }
    let _ = writeln!(text, "lens = \"lenses/{}.toml\"", camera.id);
    let board = &camera.board;
    let _ = writeln!(
        text,
        "board = {{ from_px = [{:.3}, {:.3}], to_px = [{:.3}, {:.3}], uncertainty_px = {:?}, length_m = {:?}, \
         uncertainty_m = {:?}, distance_m = {:.4}, distance_uncertainty_m = {:?} }}",
        from.x,
        from.y,
        to.x,
        to.y,
        board.reading_u_px,
        board.length_m,
        board.length_u_m,
        drawn.stated_distance_m,
        camera.distance_u_m
    );
}

/// The lamp as evidence of the film speed.
fn timing_marks(camera: &CameraSetup) -> String {
    let Some(lamp) = &camera.lamp else { return String::new() };
    // Whole pixels inside the lamp's rectangle.
    let [left, top] = lamp.at_px.map(|edge| (edge + 1.0).floor());
    let [width, height] =
        [0, 1].map(|axis| (lamp.at_px[axis] + lamp.size_px[axis]).floor() - [left, top][axis] + 1.0);
    let kind = if lamp.running {
        format!("\"spots\", pitch_px = {:?}, later_downwards = true", lamp.size_px[1])
    } else {
        "\"lamp\"".to_owned()
    };
    format!(
        ", marks = {{ kind = {kind}, region_px = [{left:.0}, {top:.0}, {width:.0}, {height:.0}], frequency_hz = {:?}, lamp_to_gate_frames = {:?} }}",
        lamp.frequency_hz, lamp.displaced_frames
    )
}

/// What else the film needs: row time, fields, perforations.
fn film_keys(text: &mut String, camera: &CameraSetup) {
    if camera.row_time_s != 0.0 {
        let _ = writeln!(text, "row_time_s = {:?}", camera.row_time_s);
    }
    if let Some(order) = camera.fields {
        let word = match order {
            FieldOrder::Top => "top_first",
            FieldOrder::Bottom => "bottom_first",
        };
        let _ = writeln!(text, "fields = \"{word}\"");
    }
    if !camera.perforations.is_empty() {
        let boxes: Vec<String> = camera
            .perforations
            .iter()
            .map(|hole| {
                let [left, top] = hole.at_px;
                format!("[{left:?}, {top:?}, {:?}, {:?}]", hole.size_px[0], hole.size_px[1])
            })
            .collect();
        let _ = writeln!(text, "steady = {{ by = \"perforations\", boxes_px = [{}] }}", boxes.join(", "));
    }
}

fn targets(text: &mut String, scene: &Scene, truth: &Truth, camera: &CameraSetup, index: usize) {
    let drawn = Drawn::new(scene, camera, index);
    let marks = truth_marks(scene, truth, index);
    let mut click = Stream::new(scene.seed, "click", index as u64, 0);
    for target in scene.targets_of(&camera.id) {
        let of_target: Vec<&TruthMark> = marks.iter().filter(|mark| mark.target == target.id).collect();
        let (dx, dy) = (click.within(CLICK_PX), click.within(CLICK_PX));
        let Some(start) = start(&of_target) else { continue };
        let stated_m = offset_m(scene, truth, camera, target) + drawn.offset_error_m(target.body);
        let u_m = offset_index(target.body).map_or(0.0, |i| camera.offset_u_m[i]);
        let _ = writeln!(
            text,
            "\n[[target]]\ncamera = {:?}\nid = {:?}\nkind = \"{}\"\nbody = \"{}\"",
            camera.id,
            target.id,
            target.kind.word(),
            target.body.word()
        );
        let _ = writeln!(
            text,
            "start = {{ frame = {}, px = [{:.1}, {:.1}] }}\nradius_px = {:.1}\nplane_offset_m = {stated_m:.4}\n\
             plane_offset_uncertainty_m = {u_m:?}",
            start.frame,
            start.x_px + dx,
            start.y_px + dy,
            start.radius_px
        );
    }
}

/// Offset of a target's plane; of a car that comes at an angle or beside the middle, that of its own point at contact.
fn offset_m(scene: &Scene, truth: &Truth, camera: &CameraSetup, target: &TargetPaint) -> f64 {
    match (&scene.car.aside, target.body) {
        (Some(_), BodyName::Car) => {
            View::new(scene, camera).sighted(target, &truth.at(truth.contact_s), [0.0, 0.0]).offset_m
        }
        _ => target.plane_offset_m,
    }
}

/// The overhead camera tells a side camera how a turned car comes nearer.
fn depth_key(scene: &Scene, camera: &CameraSetup) -> Option<String> {
    scene.car.aside.as_ref().filter(|_| camera.view == ViewPlane::Side)?;
    let other = scene.cameras.iter().find(|other| other.view == ViewPlane::Overhead)?;
    let x_m = camera.board.from_m[0] - other.board.from_m[0];
    // The side camera's plane is that of y = 0.
    let across_m = 0.0 - other.board.from_m[1];
    Some(format!(
        "depth_from = {{ camera = {:?}, x_m = {x_m:.4}, across_m = {across_m:.4}, uncertainty_m = {BOARDS_U_M:?} }}",
        other.id
    ))
}

/// The first frame in which the target is well inside the picture and clear of dust.
fn start<'a>(marks: &[&'a TruthMark]) -> Option<&'a TruthMark> {
    marks.iter().find(|mark| mark.visible && mark.cover < 0.05).copied()
}

fn bodies(text: &mut String, scene: &Scene) {
    for (body, mass_kg) in [
        (BodyName::Car, Some(scene.car.mass_kg)),
        (BodyName::Truck, Some(scene.truck.mass_kg)),
        (BodyName::Ground, None),
    ] {
        if !scene.targets.iter().any(|target| target.body == body) {
            continue;
        }
        let _ = writeln!(text, "\n[[body]]\nid = \"{}\"", body.word());
        if let Some(mass_kg) = mass_kg {
            let _ = writeln!(text, "mass_kg = {mass_kg:?}");
            if let Some(target) = survey_target(scene, body) {
                let _ = writeln!(
                    text,
                    "cg_from = {{ target = {:?}, m = [{:?}, {:?}] }}",
                    target.id,
                    0.0 - target.at_m[0],
                    0.0 - target.at_m[1]
                );
            }
        }
    }
}

/// The body's first rigid target that a side camera sees: the c.g. is surveyed from it.
fn survey_target(scene: &Scene, body: BodyName) -> Option<&TargetPaint> {
    let from_side =
        |id: &str| scene.cameras.iter().any(|camera| camera.id == id && camera.view == ViewPlane::Side);
    scene
        .targets
        .iter()
        .find(|target| target.body == body && target.crush_share <= 0.0 && from_side(&target.camera))
}

fn channels(text: &mut String, scene: &Scene) {
    for channel in &scene.channels {
        let _ = writeln!(text, "\n[[channel]]\nfile = {:?}\ncode = {:?}", channel.file, channel.code);
        if !channel.file.ends_with(".mme") {
            let _ = writeln!(text, "axis = \"{}\"\nunit = {:?}", channel.axis.word(), channel.unit);
        }
        let _ = writeln!(
            text,
            "body = \"{}\"\nat_m = [{:?}, {:?}]",
            channel.body.word(),
            channel.at_m[0],
            channel.at_m[1]
        );
    }
}

fn crush(text: &mut String, scene: &Scene) {
    let nose = scene.targets.iter().filter(|target| target.crush_share > 0.0);
    for (n, target) in nose.enumerate() {
        let id = if n == 0 { "front".to_owned() } else { format!("front-{}", n + 1) };
        let _ = writeln!(
            text,
            "\n[[crush]]\nid = {id:?}\ntarget = {:?}\nbody = \"{}\"",
            target.id,
            target.body.word()
        );
    }
}
