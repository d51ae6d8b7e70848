//! Ranges and references of a scene.

use super::{Aside, BodyName, CameraSetup, Scene};
use crate::ProvingError;
use std::collections::BTreeSet;

pub(super) fn scene(scene: &Scene) -> Result<(), ProvingError> {
    positive("before_s", scene.before_s)?;
    positive("after_s", scene.after_s)?;
    if scene.before_s + scene.after_s > 10.0 {
        return Err(ProvingError::scene("before_s + after_s", "is more than 10 s of film; shorten it"));
    }
    vehicles(scene)?;
    let mut ids = BTreeSet::new();
    for camera in &scene.cameras {
        if !ids.insert(camera.id.as_str()) {
            return Err(ProvingError::scene(format!("camera \"{}\"", camera.id), "is there twice"));
        }
        self::camera(camera)?;
        super::film_check::film(scene, camera)?;
    }
    sights(scene, &ids)?;
    targets(scene, &ids)?;
    channels(scene)
}

fn vehicles(scene: &Scene) -> Result<(), ProvingError> {
    let (car, truck, cushion) = (&scene.car, &scene.truck, &scene.cushion);
    for (place, value) in [
        ("car.mass_kg", car.mass_kg),
        ("car.speed_km_h", car.speed_km_h),
        ("car.pitch_inertia_kg_m2", car.pitch_inertia_kg_m2),
        ("truck.mass_kg", truck.mass_kg),
        ("cushion.length_m", cushion.length_m),
        ("cushion.plateau_n", cushion.plateau_n),
    ] {
        positive(place, value)?;
    }
    for (place, value) in [
        ("car.pitch_frequency_hz", car.pitch_frequency_hz),
        ("car.pitch_damping", car.pitch_damping),
        ("car.heave_frequency_hz", car.heave_frequency_hz),
        ("car.heave_damping", car.heave_damping),
        ("car.rolling_drag", car.rolling_drag),
        ("cushion.rise_m", cushion.rise_m),
        ("cushion.hardening_n_per_m", cushion.hardening_n_per_m),
        ("truck.drag", truck.drag),
        ("flash.gain", scene.flash.gain),
    ] {
        not_negative(place, value)?;
    }
    positive("flash.decay_s", scene.flash.decay_s)?;
    for (place, value) in [
        ("car.cg_height_m", car.cg_height_m),
        ("car.nose_m", car.nose_m),
        ("car.pitch_arm_m", car.pitch_arm_m),
        ("car.lift_share", car.lift_share),
        ("truck.cg_x_m", truck.cg_x_m),
        ("truck.cg_height_m", truck.cg_height_m),
        ("flash.delay_s", scene.flash.delay_s),
    ] {
        finite(place, value)?;
    }
    if let Some(aside) = &car.aside {
        self::aside(scene, aside)?;
    }
    if let Some(tether) = &truck.tether {
        not_negative("truck.tether.slack_m", tether.slack_m)?;
        positive("truck.tether.n_per_m", tether.n_per_m)?;
    }
    if let Some(unloading) = cushion.unloading_n_per_m {
        positive("cushion.unloading_n_per_m", unloading)?;
    }
    if let Some(front) = &scene.front {
        positive("front.loading_n_per_m", front.loading_n_per_m)?;
        positive("front.zone_m", front.zone_m)?;
        if front.unloading_n_per_m.is_some_and(|back| !(back.is_finite() && back >= front.loading_n_per_m)) {
            return Err(ProvingError::scene(
                "front.unloading_n_per_m",
                "must be at least front.loading_n_per_m",
            ));
        }
    }
    Ok(())
}

fn aside(scene: &Scene, aside: &Aside) -> Result<(), ProvingError> {
    positive("car.aside.yaw_inertia_kg_m2", aside.yaw_inertia_kg_m2)?;
    not_negative("car.aside.friction", aside.friction)?;
    not_negative("car.aside.tyres_per_s", aside.tyres_per_s)?;
    finite("car.aside", aside.left_m + aside.force_left_m)?;
    if !(-45.0..=45.0).contains(&aside.heading_deg) {
        return Err(ProvingError::scene("car.aside.heading_deg", "must be -45 to 45"));
    }
    if scene.channels.iter().any(|channel| channel.body == BodyName::Car) {
        let why = "cannot go with channels on the car: they are made for a car that runs straight";
        return Err(ProvingError::scene("car.aside", why));
    }
    Ok(())
}

fn camera(camera: &CameraSetup) -> Result<(), ProvingError> {
    let at = |key: &str| format!("camera \"{}\", {key}", camera.id);
    if !(16..=8192).contains(&camera.width_px) || !(16..=8192).contains(&camera.height_px) {
        return Err(ProvingError::scene(at("width_px and height_px"), "must be 16 to 8192"));
    }
    positive(&at("frames_per_s"), camera.frames_per_s)?;
    positive(&at("distance_m"), camera.distance_m)?;
    positive(&at("lens.fx_px"), camera.lens.fx_px)?;
    positive(&at("lens.fy_px"), camera.lens.fy_px)?;
    positive(&at("board.length_m"), camera.board.length_m)?;
    positive(&at("board.mark_radius_m"), camera.board.mark_radius_m)?;
    for value in [camera.frames_per_s, camera.lens.fx_px, camera.lens.fy_px] {
        if value > 1e6 {
            return Err(ProvingError::scene(at("frames_per_s or lens"), "is above 1e6; check the unit"));
        }
    }
    stated_doubts(camera)?;
    not_negative(&at("picture.noise_grey"), camera.picture.noise_grey)?;
    positive(&at("picture.grain_px"), camera.picture.grain_px)?;
    if !(camera.exposure_s >= 0.0 && camera.exposure_s <= 1.0 / camera.frames_per_s) {
        return Err(ProvingError::scene(at("exposure_s"), "must lie between 0 and the time of one frame"));
    }
    let picture = &camera.picture;
    if !(8..=16).contains(&picture.bits) {
        return Err(ProvingError::scene(at("picture.bits"), "must be 8 to 16"));
    }
    if !(0.2..=5.0).contains(&picture.spread_px) {
        return Err(ProvingError::scene(at("picture.spread_px"), "must be 0.2 to 5"));
    }
    if !(1..=64).contains(&picture.instants) || !(1..=8).contains(&picture.subpixels) {
        return Err(ProvingError::scene(at("picture"), "needs 1 to 64 instants and 1 to 8 subpixels"));
    }
    if !(0.0..=1.0).contains(&picture.shot_share) {
        return Err(ProvingError::scene(at("picture.shot_share"), "must be 0 to 1"));
    }
    Ok(())
}

fn stated_doubts(camera: &CameraSetup) -> Result<(), ProvingError> {
    let at = |key: &str| format!("camera \"{}\", {key}", camera.id);
    let [car, truck, ground] = camera.offset_u_m;
    let u = camera.lens_u;
    for (key, value) in [
        ("speed_relative_u", camera.speed_relative_u),
        ("distance_u_m", camera.distance_u_m),
        ("board.length_u_m", camera.board.length_u_m),
        ("board.reading_u_px", camera.board.reading_u_px),
        ("offset_u_m of the car", car),
        ("offset_u_m of the truck", truck),
        ("offset_u_m of the ground", ground),
        ("lens_u.focal_px", u.focal_px),
        ("lens_u.centre_px", u.centre_px),
        ("lens_u.k1", u.k1),
        ("lens_u.k2", u.k2),
    ] {
        not_negative(&at(key), value)?;
    }
    let lens = camera.lens;
    for value in [lens.cx_px, lens.cy_px, lens.k1, lens.k2, lens.k3, lens.p1, lens.p2, camera.roll_deg] {
        finite(&at("lens or roll_deg"), value)?;
    }
    for value in camera.axis_m.into_iter().chain(camera.board.from_m).chain([camera.plane_height_m]) {
        finite(&at("axis_m, board.from_m or plane_height_m"), value)?;
    }
    Ok(())
}

fn sights(scene: &Scene, cameras: &BTreeSet<&str>) -> Result<(), ProvingError> {
    let seen_by = scene.paints.iter().map(|paint| ("paint", &paint.camera));
    let seen_by = seen_by.chain(scene.dust.iter().map(|dust| ("dust", &dust.camera)));
    let seen_by = seen_by.chain(scene.occluders.iter().map(|thing| ("occluder", &thing.camera)));
    for (what, camera) in seen_by.chain(scene.flash.bulbs.iter().map(|bulb| ("flash.bulbs", &bulb.0))) {
        known(what, camera, cameras)?;
    }
    for paint in &scene.paints {
        let place = format!("paint of {} for camera \"{}\"", paint.body.word(), paint.camera);
        if paint.disc.is_none() && paint.outline.len() < 3 {
            return Err(ProvingError::scene(place, "needs an outline of three corners or more, or a disc"));
        }
        positive(&place, paint.grain_m)?;
        for corner in &paint.outline {
            finite(&place, corner[0] + corner[1])?;
        }
        before_lens(scene, &place, &paint.camera, paint.plane_offset_m)?;
    }
    for thing in &scene.occluders {
        before_lens(scene, "occluder", &thing.camera, thing.plane_offset_m)?;
    }
    for dust in &scene.dust {
        for (key, value) in [("radius_m", dust.radius_m), ("rise_s", dust.rise_s), ("life_s", dust.life_s)] {
            positive(&format!("dust.{key}"), value)?;
        }
    }
    Ok(())
}

fn targets(scene: &Scene, cameras: &BTreeSet<&str>) -> Result<(), ProvingError> {
    let mut seen = BTreeSet::new();
    for target in &scene.targets {
        let place = format!("target \"{}\"", target.id);
        known(&place, &target.camera, cameras)?;
        if !seen.insert((target.camera.as_str(), target.id.as_str())) {
            return Err(ProvingError::scene(place, "is there twice for one camera"));
        }
        if target.kind == filmgauge_quantities::TargetKind::Patch {
            return Err(ProvingError::scene(place, "cannot be a patch: a patch has no exact centre"));
        }
        if target.body == BodyName::Cushion {
            return Err(ProvingError::scene(place, "must be on the car, the truck or the ground"));
        }
        positive(&place, target.radius_m)?;
        for value in [target.at_m[0], target.at_m[1], target.turn_deg] {
            finite(&place, value)?;
        }
        if !(0.0..=1.0).contains(&target.crush_share) {
            return Err(ProvingError::scene(place, "needs a crush_share from 0 to 1"));
        }
        before_lens(scene, &place, &target.camera, target.plane_offset_m)?;
    }
    match &scene.climb_point {
        Some(id) if !scene.targets.iter().any(|target| target.id == *id && target.body == BodyName::Car) => {
            Err(ProvingError::scene("climb_point", format!("names \"{id}\", which is no target on the car")))
        }
        _ => Ok(()),
    }
}

fn channels(scene: &Scene) -> Result<(), ProvingError> {
    for channel in &scene.channels {
        let place = format!("channel \"{}\"", channel.code);
        positive(&place, channel.samples_per_s)?;
        not_negative(&place, channel.noise_m_s2)?;
        if channel.samples_per_s > 1e6 {
            return Err(ProvingError::scene(place, "has more than 1e6 samples per second"));
        }
        if !matches!(channel.unit.as_str(), "g" | "m/s2") {
            return Err(ProvingError::scene(place, "needs the unit \"g\" or \"m/s2\""));
        }
        if !matches!(channel.body, BodyName::Car | BodyName::Truck) {
            return Err(ProvingError::scene(place, "must be on the car or the truck"));
        }
        if channel.file.ends_with(".mme") && channel.code.len() != 16 {
            return Err(ProvingError::scene(place, "needs a code of 16 characters in an exchange folder"));
        }
    }
    Ok(())
}

fn before_lens(scene: &Scene, place: &str, camera: &str, offset_m: f64) -> Result<(), ProvingError> {
    let fits = scene.cameras.iter().all(|c| c.id != camera || offset_m < 0.9 * c.distance_m);
    if fits && offset_m.is_finite() {
        Ok(())
    } else {
        Err(ProvingError::scene(place, "has a plane_offset_m beyond nine tenths of the camera's distance"))
    }
}

fn known(place: &str, camera: &str, cameras: &BTreeSet<&str>) -> Result<(), ProvingError> {
    if cameras.contains(camera) {
        Ok(())
    } else {
        Err(ProvingError::scene(place, format!("names camera \"{camera}\", which the scene does not have")))
    }
}

pub(super) fn finite(place: &str, value: f64) -> Result<(), ProvingError> {
    if value.is_finite() { Ok(()) } else { Err(ProvingError::scene(place, "must be a finite number")) }
}

pub(super) fn positive(place: &str, value: f64) -> Result<(), ProvingError> {
    if value.is_finite() && value > 0.0 {
        Ok(())
    } else {
        Err(ProvingError::scene(place, format!("is {value}; it must be a finite number above 0")))
    }
}

pub(super) fn not_negative(place: &str, value: f64) -> Result<(), ProvingError> {
    if value.is_finite() && value >= 0.0 {
        Ok(())
    } else {
        Err(ProvingError::scene(place, format!("is {value}; it must be a finite number of at least 0")))
    }
}
