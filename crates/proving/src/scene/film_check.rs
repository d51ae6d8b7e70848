//! Ranges of what a scene says about film, clock and scan.

use super::check::{finite, not_negative, positive};
use super::{CameraSetup, FilmRun, Lamp, Scene};
use crate::ProvingError;
use crate::clock::counts;

/// Checks the film keys of one camera.
pub(super) fn film(scene: &Scene, camera: &CameraSetup) -> Result<(), ProvingError> {
    let at = |key: &str| format!("camera \"{}\", {key}", camera.id);
    if let Some(film) = camera.film {
        speed(scene, camera, film)?;
    }
    clock(camera)?;
    if let Some(found) = camera.lamp {
        lamp(camera, found)?;
    }
    if let Some(weave) = camera.weave {
        not_negative(&at("weave.shift_sd_px"), weave.shift_sd_px)?;
        not_negative(&at("weave.turn_sd_deg"), weave.turn_sd_deg)?;
        if weave.turn_sd_deg > 2.0 || weave.shift_sd_px > 50.0 {
            return Err(ProvingError::scene(at("weave"), "must be at most 50 px and 2 degrees"));
        }
    }
    if let Some(shake) = camera.shake {
        for (key, value, most) in [
            ("shake.pan_px", shake.pan_px, 100.0),
            ("shake.tilt_px", shake.tilt_px, 100.0),
            ("shake.roll_deg", shake.roll_deg, 2.0),
            ("shake.frequency_hz", shake.frequency_hz, 500.0),
        ] {
            not_negative(&at(key), value)?;
            if value > most {
                return Err(ProvingError::scene(at(key), format!("must be at most {most}")));
            }
        }
    }
    for hole in &camera.perforations {
        rectangle(&at("perforations"), hole.at_px, hole.size_px)?;
        finite(&at("perforations.grey"), hole.grey)?;
    }
    scan(camera)?;
    lost(scene, camera)?;
    not_negative(&at("row_time_s"), camera.row_time_s)?;
    if camera.row_time_s * crate::view::size(camera.height_px) > 1.0 / camera.frames_per_s {
        return Err(ProvingError::scene(
            at("row_time_s"),
            "times the rows is longer than one frame; shorten it",
        ));
    }
    Ok(())
}

fn speed(scene: &Scene, camera: &CameraSetup, film: FilmRun) -> Result<(), ProvingError> {
    let at = format!("camera \"{}\", film", camera.id);
    positive(&at, film.frames_per_s)?;
    finite(&at, film.accel_per_s2)?;
    if camera.clock.drift.is_some() {
        return Err(ProvingError::scene(at, "already says the true speed; leave clock.drift out"));
    }
    let end = film.frames_per_s + film.accel_per_s2 * (scene.before_s + scene.after_s);
    if end < 0.1 * film.frames_per_s || end.max(film.frames_per_s) > 1e6 {
        return Err(ProvingError::scene(
            at,
            "must end between a tenth of its first speed and 1e6 frames per second",
        ));
    }
    if camera.exposure_s * end.max(film.frames_per_s) > 1.0 {
        return Err(ProvingError::scene(at, "is faster than exposure_s allows; shorten the exposure"));
    }
    Ok(())
}

fn clock(camera: &CameraSetup) -> Result<(), ProvingError> {
    let at = |key: &str| format!("camera \"{}\", clock.{key}", camera.id);
    if camera.clock.phase_frames.is_some_and(|phase| !(0.0..=1.0).contains(&phase)) {
        return Err(ProvingError::scene(at("phase_frames"), "must be 0 to 1"));
    }
    if camera.clock.drift.is_some_and(|drift| !(-0.5..=0.5).contains(&drift)) {
        return Err(ProvingError::scene(at("drift"), "must be -0.5 to 0.5"));
    }
    Ok(())
}

fn lamp(camera: &CameraSetup, lamp: Lamp) -> Result<(), ProvingError> {
    let at = |key: &str| format!("camera \"{}\", lamp.{key}", camera.id);
    rectangle(&at("at_px and size_px"), lamp.at_px, lamp.size_px)?;
    positive(&at("frequency_hz"), lamp.frequency_hz)?;
    for (key, value) in [
        ("phase_s", lamp.phase_s),
        ("off_grey", lamp.off_grey),
        ("on_grey", lamp.on_grey),
        ("displaced_frames", lamp.displaced_frames),
    ] {
        finite(&at(key), value)?;
    }
    if !(lamp.duty > 0.0 && lamp.duty < 1.0) {
        return Err(ProvingError::scene(at("duty"), "must lie between 0 and 1"));
    }
    if lamp.displaced_frames.abs() > 100.0 {
        return Err(ProvingError::scene(at("displaced_frames"), "must be at most 100"));
    }
    Ok(())
}

fn scan(camera: &CameraSetup) -> Result<(), ProvingError> {
    let Some(scan) = camera.scan else { return Ok(()) };
    let at = |key: &str| format!("camera \"{}\", scan.{key}", camera.id);
    let [least, greatest] = scan.speck_radius_px;
    positive(&at("speck_radius_px"), least)?;
    positive(&at("scratch_width_px"), scan.scratch_width_px)?;
    positive(&at("scratch_length_px"), scan.scratch_length_px)?;
    finite(&at("flaw_grey"), scan.flaw_grey)?;
    not_negative(&at("level_sd"), scan.level_sd)?;
    if !(greatest >= least && greatest <= 100.0) || scan.specks > 10_000 || scan.scratches > 1000 {
        return Err(ProvingError::scene(
            at("specks or scratches"),
            "needs radii in order up to 100 px, at most 10000 specks and 1000 scratches",
        ));
    }
    Ok(())
}

/// Dropped and doubled exposures are exposures, none is both, and something is left.
fn lost(scene: &Scene, camera: &CameraSetup) -> Result<(), ProvingError> {
    let at = format!("camera \"{}\", dropped or doubled", camera.id);
    let (_, n_exposures) = counts(scene, camera);
    let named = camera.dropped.iter().chain(&camera.doubled);
    if let Some(beyond) = named.clone().find(|exposure| f64::from(**exposure) >= n_exposures) {
        return Err(ProvingError::scene(
            at,
            format!("names exposure {beyond}, but the film has {n_exposures}, counted from 0"),
        ));
    }
    if let Some(both) = camera.dropped.iter().find(|exposure| camera.doubled.contains(exposure)) {
        return Err(ProvingError::scene(at, format!("names exposure {both} in both lists")));
    }
    let unique: std::collections::BTreeSet<_> = camera.dropped.iter().collect();
    if crate::view::size(unique.len()) >= n_exposures {
        return Err(ProvingError::scene(at, "leaves no frame"));
    }
    Ok(())
}

fn rectangle(place: &str, at_px: [f64; 2], size_px: [f64; 2]) -> Result<(), ProvingError> {
    finite(place, at_px[0] + at_px[1])?;
    size_px.iter().try_for_each(|&side| positive(place, side))
}
