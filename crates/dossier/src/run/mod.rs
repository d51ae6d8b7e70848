//! The run: films → motion → findings with budgets → channels → everything the sheet shows.

mod agreement;
mod beside;
mod blame;
mod budget;
mod build;
mod calibration;
mod centre;
pub(crate) mod channels;
mod clock;
mod deforming;
mod depth;
mod drawings;
mod evaluate;
mod events;
mod field_rows;
mod film;
mod film_severity;
mod findings;
mod fitted;
mod fused;
mod grid;
mod image_marks;
mod kept;
mod looks;
mod means;
mod motion_rows;
mod panels;
mod profiles;
mod provenance;
mod scale;
mod sensor_findings;
pub(crate) mod sensor_motion;
pub(crate) mod severity;
mod shutter;
mod space;
mod starts;
mod steadying;
mod steps;
mod strip;
mod summary;
mod systematic;
mod ties;

pub use film::coding_u_px;
pub use provenance::stated;

use crate::document::Role;
use crate::error::DossierError;
use crate::load::Dossier;
use crate::options::RunOptions;
use crate::plan::{CameraPlan, Plan, ZeroPlan};
use crate::watch::{Progress, Watch};
use budget::Budgeted;
use calibration::calibration;
use clock::ClockTroubles;
use evaluate::Inputs;
use film::Film;
use filmgauge_geometry::SteadyFilm;
use filmgauge_quantities::{CameraId, Seconds, Uncertain, ViewPlane};
use filmgauge_results::{
    CameraSummary, CrosscheckResult, Curve, FrameTableText, MotionRow, Notice, Panel, Results, StripPicture,
};
use means::Means;

/// Measures a dossier: the whole chain from footage and channel files to findings. Reads only; writes
/// nothing but kept passes, where [`RunOptions::keep`] says.
///
/// # Errors
/// [`DossierError`] when the dossier, footage, lens or board cannot be used, or on a stop. A target, body, finding
/// or channel that fails does not end the run: it has a reason in the results.
pub fn measure(dossier: &Dossier, options: &RunOptions, watch: &dyn Watch) -> Result<Results, DossierError> {
    let plan = Plan::of(dossier)?;
    let threads = options.threads.unwrap_or(0);
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .map_err(|error| DossierError::Threads { threads, why: error.to_string() })?;
    pool.install(|| run(dossier, &plan, options, watch))
}

fn run(
    dossier: &Dossier,
    plan: &Plan,
    options: &RunOptions,
    watch: &dyn Watch,
) -> Result<Results, DossierError> {
    let films = plan
        .cameras
        .iter()
        .map(|camera| film::film(dossier, camera, options, watch))
        .collect::<Result<Vec<_>, _>>()?;
    let steadied: Vec<_> = plan
        .cameras
        .iter()
        .zip(&films)
        .map(|(camera, film)| steadying::steadied(plan, camera, film))
        .collect();
    let (inputs, troubles) = camera_inputs(dossier, plan, &films, &steadied, options);
    let mut notices = Vec::new();
    let cameras = evaluated(&inputs, watch)?;
    for (camera, troubles) in cameras.iter().zip(&troubles) {
        notices.extend(summary::camera_notices(camera, troubles));
    }
    for (camera, steadied) in plan.cameras.iter().zip(&steadied) {
        notices.extend(summary::steady_notice(camera, steadied.as_ref()));
    }
    notices.extend(dossier.document.event.iter().filter_map(|event| summary::event_notice(event, &cameras)));
    let (records, switch_fault) = channels::read(dossier, plan);
    notices.extend(switch_fault.into_iter().chain(records.iter().filter_map(summary::channel_notice)));
    let side = cameras.iter().find(|camera| camera.inputs.camera.view == ViewPlane::Side);
    let at_centre = severity::of_striking(&records, plan, side);
    let crosschecks = checked(&records, at_centre.as_ref(), side, options);
    let clocks = ties::clocks(&dossier.document.tie, &cameras, side, &records, &crosschecks);
    let (strip, unread) = pictures(dossier, &cameras, options, watch)?;
    notices.extend(unread);
    let mut findings: Vec<_> = cameras.iter().flat_map(Budgeted::findings).collect();
    findings.extend(side.into_iter().flat_map(|camera| film_severity::findings(camera, options)));
    findings.extend(by_sensors(plan, (&records, at_centre.as_ref()), side, options));
    let fused = fused::FusedMotion::of(dossier, plan, side, (&records, &crosschecks), options);
    findings.extend(fused.iter().flat_map(|fused| fused.findings(options)));
    if let Some(plan) = &plan.centre {
        notices.extend(centre::notices(plan, &findings));
        let means = centre::findings(plan, &findings);
        findings.extend(means);
    }
    let space = plan.space.as_ref().map(|plan| space::space(plan, &cameras));
    if let (Some(plan), Some(Err(why))) = (&plan.space, &space) {
        notices.push(space::failed(plan, &cameras, why));
    }
    let space = space.and_then(Result::ok);
    findings.extend(space.iter().flat_map(space::Space::findings));
    notices.extend(space.iter().flat_map(space::Space::notices));
    let side_id = side.map(|camera| camera.inputs.camera.id.as_str());
    findings.extend(crosschecks.iter().flat_map(|check| sensor_findings::crosscheck(check, side_id)));
    findings.extend(profiles::findings(plan, &findings));
    notices.extend(blame::blame(&cameras, (&records, &crosschecks), &mut findings));
    let means: Vec<Means> =
        cameras.iter().map(|camera| means::means(camera, &dossier.document.test.beside)).collect();
    let fused_speed = fused.and_then(|fused| fused.speed_curve());
    let panels = diagrams(dossier, &cameras, &records, &means, fused_speed, options);
    Ok(Results {
        test: summary::test(dossier),
        cameras: camera_summaries(&cameras, means, space.as_ref()),
        channels: records.iter().zip(&crosschecks).map(summary::channel).collect(),
        events: events::event_rows(&dossier.document.event, &cameras, &findings),
        findings,
        crosschecks,
        frame_tables: frame_tables(&plan.cameras, &films)?,
        clocks,
        steps: plan.cameras.iter().zip(&steadied).flat_map(motion_rows::step_rows).collect(),
        marks: cameras.iter().flat_map(motion_rows::mark_rows).collect(),
        gaps: cameras.iter().flat_map(motion_rows::gap_rows).collect(),
        motion: motion(plan, &cameras, space.as_ref()),
        panels,
        drawings: cameras.iter().map(|camera| drawings::drawing(camera, &strip)).collect(),
        strip,
        notices,
        provenance: provenance::provenance(dossier, plan, &films, options, watch)?,
    })
}

/// Diagrams of the side camera, with the instants named by hand.
fn diagrams(
    dossier: &Dossier,
    cameras: &[Budgeted<'_>],
    records: &[channels::Record<'_>],
    means: &[Means],
    fused_speed: Option<Curve>,
    options: &RunOptions,
) -> Vec<Panel> {
    let is_side = |camera: &Budgeted<'_>| camera.inputs.camera.view == ViewPlane::Side;
    let side = cameras.iter().zip(means).find(|(camera, _)| is_side(camera));
    let panels = side.map(|(camera, means)| panels::panels(camera, records, means, options));
    let mut panels = panels.unwrap_or_default();
    panels::add_speed(&mut panels, fused_speed);
    panels::mark_events(&mut panels, &dossier.document.event, cameras);
    panels
}

/// What was set for each camera, and for those joined in space.
fn camera_summaries(
    cameras: &[Budgeted<'_>],
    means: Vec<Means>,
    space: Option<&space::Space<'_>>,
) -> Vec<CameraSummary> {
    let own = cameras.iter().zip(means).map(|(camera, means)| summary::camera(camera, means.lines));
    own.chain(space.map(space::Space::summary)).collect()
}

/// Motion of every camera, of both sides' mean and of cameras joined in space.
fn motion(plan: &Plan, cameras: &[Budgeted<'_>], space: Option<&space::Space<'_>>) -> Vec<MotionRow> {
    let mut rows: Vec<MotionRow> = cameras.iter().flat_map(motion_rows::motion_rows).collect();
    if let Some(plan) = &plan.centre {
        let means = centre::rows(plan, &rows);
        rows.extend(means);
    }
    rows.extend(space.iter().flat_map(|space| space.rows()));
    rows
}

/// Every camera evaluated. One whose depth another tells waits for that one, and is evaluated without depth only where it
/// tells the depth of another itself.
fn evaluated<'a>(inputs: &[Inputs<'a>], watch: &dyn Watch) -> Result<Vec<Budgeted<'a>>, DossierError> {
    let tells = |id: &CameraId| {
        inputs.iter().any(|other| other.camera.depth_from.as_ref().is_some_and(|from| from.camera == *id))
    };
    let waits = |inputs: &Inputs<'_>| inputs.camera.depth_from.is_some();
    let twice = inputs.iter().filter(|inputs| waits(inputs) && tells(&inputs.camera.id)).count();
    let total = Some((inputs.len() + twice) as u64);
    let mut done = 0;
    let mut evaluate = |inputs: &Inputs<'a>| -> Result<Budgeted<'a>, DossierError> {
        stop_if_asked(watch)?;
        watch.progress(&Progress { step: "motion and error budget", done, total });
        done += 1;
        budget::budgeted(inputs).map_err(|source| in_geometry(inputs, source))
    };
    let needed = inputs.iter().filter(|inputs| !waits(inputs) || tells(&inputs.camera.id));
    let mut alone = needed.map(&mut evaluate).collect::<Result<Vec<_>, _>>()?;
    let mut coupled = Vec::new();
    for inputs in inputs.iter().filter(|inputs| waits(inputs)) {
        let from = inputs.camera.depth_from.as_ref().map(|from| &from.camera);
        let other = alone.iter().find(|other| Some(&other.inputs.camera.id) == from);
        let depths = other.map_or(Ok(Vec::new()), |other| depth::depths(inputs, other));
        let depths = depths.map_err(|source| in_geometry(inputs, source))?;
        coupled.push(evaluate(&Inputs { depths, ..inputs.clone() })?);
    }
    alone.retain(|camera| !waits(&camera.inputs));
    alone.extend(coupled);
    let place =
        |camera: &Budgeted<'_>| inputs.iter().position(|own| own.camera.id == camera.inputs.camera.id);
    alone.sort_by_key(place);
    Ok(alone)
}

fn in_geometry(inputs: &Inputs<'_>, source: filmgauge_geometry::GeometryError) -> DossierError {
    DossierError::Geometry { camera: inputs.camera.id.to_string(), source }
}

/// The inputs of every camera, and what its clock left in doubt. Time zeros that another camera gives come last.
fn camera_inputs<'a>(
    dossier: &Dossier,
    plan: &'a Plan,
    films: &'a [Film],
    steadied: &'a [Option<Result<SteadyFilm, String>>],
    options: &'a RunOptions,
) -> (Vec<Inputs<'a>>, Vec<ClockTroubles>) {
    let of_camera = |((camera, film), steadied): ((&'a CameraPlan, &'a Film), &'a Option<_>)| {
        let (clock, troubles) = clock::clock(camera, film, &options.findings);
        let steadied: Option<&SteadyFilm> =
            steadied.as_ref().and_then(|it: &Result<SteadyFilm, String>| it.as_ref().ok());
        let inputs = Inputs {
            plan,
            camera,
            film,
            options,
            contact_by: dossier.document.test.contact,
            calibration: calibration(camera, film, steadied),
            clock,
            shutter: camera.shutter,
            steadied,
            contact_shift_s: 0.0,
            depths: Vec::new(),
            kept: None,
        };
        (inputs, troubles)
    };
    let (mut inputs, mut troubles): (Vec<_>, Vec<_>) =
        plan.cameras.iter().zip(films).zip(steadied).map(of_camera).unzip();
    for index in 0..inputs.len() {
        let ZeroPlan::Camera { camera, .. } = &inputs[index].camera.zero else { continue };
        let Some(other) = inputs.iter().find(|other| other.camera.id.as_str() == camera).cloned() else {
            continue;
        };
        troubles[index].zero = ties::carry_zero(&mut inputs[index], &other).err();
    }
    (inputs, troubles)
}

/// Every channel against film and against its fellows, with its zero and the steps applied to it.
fn checked(
    records: &[channels::Record<'_>],
    at_centre: Option<&Result<severity::AtCentre<'_>, String>>,
    side: Option<&Budgeted<'_>>,
    options: &RunOptions,
) -> Vec<CrosscheckResult> {
    let mut checks: Vec<_> =
        records.iter().map(|record| channels::crosscheck(record, side, options)).collect();
    beside::add(&mut checks, records, side, options);
    let contact_s = side.map_or(0.0, |camera| camera.motion.contact_s());
    let used = at_centre.and_then(|centre| centre.as_ref().ok());
    for (check, record) in checks.iter_mut().zip(records) {
        check.steps = steps::listed(record, used, contact_s, options);
    }
    checks
}

fn stop_if_asked(watch: &dyn Watch) -> Result<(), DossierError> {
    if watch.stop_asked() { Err(DossierError::Stopped) } else { Ok(()) }
}

/// Resultants, and occupant figures from the striking body's own sensors, where one senses forward.
fn by_sensors(
    plan: &Plan,
    (records, sensors): (&[channels::Record<'_>], Option<&Result<severity::AtCentre<'_>, String>>),
    side: Option<&Budgeted<'_>>,
    options: &RunOptions,
) -> Vec<filmgauge_results::Finding> {
    let resultants = sensor_motion::resultants(records, side, options);
    let Some(sensors) = sensors else { return resultants };
    let subject = plan.bodies.iter().find(|body| body.role == Role::Striking);
    let subject = subject.map_or("", |body| body.id.as_str());
    // The sensor's clock starts at time zero: the film's doubt about its own zero stands between them.
    let contact = side.and_then(|camera| Some((camera, camera.motion.contact.as_ref().ok()?)));
    let contact =
        contact.map_or(Uncertain::new(Seconds::from_s(0.0), Seconds::from_s(0.0)), |(camera, contact)| {
            let u_s = contact.u_s.hypot(camera.motion.clock.zero_u_s);
            Uncertain::new(Seconds::from_s(contact.time_s), Seconds::from_s(u_s))
        });
    let channels = sensors.as_ref().map(severity::AtCentre::channels).map_err(Clone::clone);
    let mut made = severity::findings(&channels, subject, contact, 0.0, options);
    let change = channels
        .ok()
        .and_then(|channels| sensor_motion::speed_change(&channels, subject, contact, 0.0, options));
    made.extend(change);
    made.extend(resultants);
    made
}

/// The frame index of every film as its file's text.
fn frame_tables(cameras: &[CameraPlan], films: &[Film]) -> Result<Vec<FrameTableText>, DossierError> {
    let of_film = |(camera, film): (&CameraPlan, &Film)| {
        let text = film.index.to_text();
        let text = text.map_err(|source| DossierError::Footage { camera: camera.id.to_string(), source })?;
        Ok(FrameTableText { camera: camera.id.to_string(), text })
    };
    cameras.iter().zip(films).map(of_film).collect()
}

fn pictures(
    dossier: &Dossier,
    cameras: &[Budgeted<'_>],
    options: &RunOptions,
    watch: &dyn Watch,
) -> Result<(Vec<StripPicture>, Vec<Notice>), DossierError> {
    let (mut pictures, mut notices) = (Vec::new(), Vec::new());
    for (index, camera) in (0_u64..).zip(cameras) {
        let total = Some(cameras.len() as u64);
        watch.progress(&Progress { step: "picture strip", done: index, total });
        let inputs = strip::StripInputs {
            dossier,
            camera: camera.inputs.camera,
            film: camera.inputs.film,
            clock: &camera.motion.clock,
            contact_s: camera.motion.contact_s(),
            metres_per_px: camera.motion.map.metres_per_px(),
        };
        let (of_camera, unread) = strip::strip(&inputs, options, watch)?;
        pictures.extend(of_camera);
        notices.extend(unread);
    }
    Ok((pictures, notices))
}
