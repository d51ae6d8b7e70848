//! What is drawn over a film besides its marks: the plane's grid, the points that bodies are told by with their axes, the
//! loose occupant.

use super::budget::Budgeted;
use super::depth::Depth;
use super::evaluate::{BodyState, Inputs};
use super::findings::free_flight;
use super::grid::grid;
use crate::document::Role;
use filmgauge_quantities::{Length, PixelPoint, PlanePoint};
use filmgauge_results::{BodyAxes, FilmDrawing, FilmPath, PathKind, StripPicture};

/// Length of a body's axes, m: seen beside a car without hiding it.
const AXIS_M: f64 = 0.5;

/// Everything drawn over one camera's film; `strip` is that of all cameras.
pub(crate) fn drawing(camera: &Budgeted<'_>, strip: &[StripPicture]) -> FilmDrawing {
    let moving = camera.motion.bodies.iter().filter(|body| body.role != Role::Ground);
    let (mut paths, axes): (Vec<FilmPath>, Vec<Option<BodyAxes>>) =
        moving.map(|body| (body_path(camera, body), body_axes(camera, body))).unzip();
    paths.extend(occupant_path(camera));
    let info = &camera.inputs.film.info;
    let grid = grid(&camera.motion.map, info.width as f64, info.height as f64);
    let (id, clock) = (camera.inputs.camera.id.to_string(), &camera.motion.clock);
    FilmDrawing {
        metres_per_px: Some(camera.motion.map.metres_per_px()).filter(|scale| *scale > 0.0),
        times_s: camera.motion.times_s.clone(),
        u_times_s: (0..camera.motion.times_s.len()).map(|frame| clock.time_u_s(frame)).collect(),
        strip_frames: strip
            .iter()
            .filter(|picture| picture.camera == id)
            .map(|picture| picture.frame)
            .collect(),
        camera: id,
        grid,
        paths,
        axes: axes.into_iter().flatten().collect(),
    }
}

/// Path of the point that a body's motion is told of.
fn body_path(camera: &Budgeted<'_>, body: &BodyState) -> FilmPath {
    let motion = &body.motion;
    let place = |frame: usize| {
        motion.poses[frame]?;
        let point = PlanePoint::new(motion.x.states[frame][0], motion.z.states[frame][0]);
        on_film(camera, body, point, frame)
    };
    FilmPath {
        label: format!("{}, {}", body.id, body.point),
        kind: PathKind::BodyPoint,
        places: (0..motion.times_s.len()).map(place).collect(),
    }
}

/// Axes of a body at the point that its motion is told of; `None` for a body whose angle is not known.
fn body_axes(camera: &Budgeted<'_>, body: &BodyState) -> Option<BodyAxes> {
    let motion = &body.motion;
    let angle = motion.angle.as_ref()?;
    let place = |frame: usize| {
        motion.poses[frame]?;
        let point = PlanePoint::new(motion.x.states[frame][0], motion.z.states[frame][0]);
        let turn = angle.states[frame][0];
        let tip = |ahead: f64, across: f64| point + PlanePoint::new(ahead, across).turned(turn);
        let drawn =
            [point, tip(AXIS_M, 0.0), tip(0.0, AXIS_M)].map(|point| on_film(camera, body, point, frame));
        let [Some(origin), Some(nose), Some(second)] = drawn else { return None };
        Some([origin, nose, second].map(|place| place.map(to_thousandth)))
    };
    let places = (0..motion.times_s.len()).map(place).collect();
    Some(BodyAxes { body: body.id.to_string(), length_m: AXIS_M, places })
}

/// Finer than that nothing is drawn.
fn to_thousandth(px: f64) -> f64 {
    (px * 1000.0).round() / 1000.0
}

/// Path of a loose occupant from contact to its impact: it starts at the body's point and keeps the speed and height
/// that the body had at contact.
fn occupant_path(camera: &Budgeted<'_>) -> Option<FilmPath> {
    let (body, flight) = free_flight(&camera.inputs, &camera.motion)?;
    let (x, _) = body.motion.x.at(flight.contact_s)?;
    let (z, _) = body.motion.z.at(flight.contact_s)?;
    let place = |(frame, time_s): (usize, &f64)| {
        let flown_s = time_s - flight.contact_s;
        let is_flying = flown_s >= 0.0 && flight.impact_s.is_none_or(|impact_s| *time_s <= impact_s);
        let point = PlanePoint::new(x[0] + flight.speed_m_s * flown_s, z[0]);
        is_flying.then(|| on_film(camera, body, point, frame)).flatten()
    };
    let places = body.motion.times_s.iter().enumerate().map(place).collect();
    Some(FilmPath { label: "loose occupant".into(), kind: PathKind::Occupant, places })
}

/// Stored pixel of a plane point that lies as far in front of the board as the body's targets do.
fn on_film(camera: &Budgeted<'_>, body: &BodyState, point: PlanePoint, frame: usize) -> Option<[f64; 2]> {
    let plane = camera.inputs.calibration.plane_of(&body.id).further(mean_offset(&camera.inputs, body));
    let offset = mean_offset(&camera.inputs, body);
    let nearer = |depth: &Depth| depth.of_target(camera.motion.times_s[frame], offset).nearer_at(point.x_m);
    let plane = camera.inputs.depth_of(&body.id).map_or(plane, |depth| plane.further(nearer(depth)));
    let place = camera.motion.map.image_from_plane(point, plane).ok()?;
    in_frame(&camera.inputs, place, frame).map(|place| [place.x, place.y])
}

/// A place of the reference frame in a frame of its own; `None` in a frame that could not be steadied.
pub(super) fn in_frame(inputs: &Inputs<'_>, place: PixelPoint, frame: usize) -> Option<PixelPoint> {
    inputs.steadied.map_or(Some(place), |steadied| steadied.image_from_steady(frame, place))
}

/// Mean plane offset of a body's rigid targets.
#[expect(clippy::cast_precision_loss, reason = "a count of targets")]
fn mean_offset(inputs: &Inputs<'_>, body: &BodyState) -> Length {
    let own = inputs.camera.targets.iter().filter(|target| target.body == body.id && !target.deforms);
    let offsets_m: Vec<f64> = own.map(|target| target.offset.value.as_m()).collect();
    Length::from_m(offsets_m.iter().sum::<f64>() / offsets_m.len().max(1) as f64)
}
