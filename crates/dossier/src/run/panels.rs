//! Diagrams of the sheet: film curves with 95 % bands, sensors laid over them.

use super::budget::Budgeted;
use super::channels::Record;
use super::evaluate::BodyState;
use super::means::{Means, in_class};
use super::sensor_findings::prepared;
use super::systematic::Shown;
use crate::document::{AxisEntry, EventEntry, Role};
use crate::options::RunOptions;
use filmgauge_motion::Smoothed;
use filmgauge_quantities::COVERAGE_95;
use filmgauge_results::{Curve, CurveBand, CurvePoint, Panel, PanelMarker};
use filmgauge_sensors::{CfcClass, StartRule};

/// Points drawn of a channel; it is sampled far more densely than any screen shows.
const CHANNEL_POINTS: usize = 1200;

/// All diagrams of one side camera.
pub(crate) fn panels(
    camera: &Budgeted<'_>,
    records: &[Record<'_>],
    means: &Means,
    options: &RunOptions,
) -> Vec<Panel> {
    let contact_s = camera.motion.contact_s();
    let panel = |title: &str, unit: &str, curves: Vec<Curve>| Panel {
        title: title.into(),
        unit: unit.into(),
        curves,
        markers: vec![PanelMarker { time_s: contact_s, label: "contact".into() }],
    };
    let moving: Vec<&BodyState> =
        camera.motion.bodies.iter().filter(|body| body.role != Role::Ground).collect();
    let along = |order: usize| -> Vec<Curve> {
        moving
            .iter()
            .map(|body| film_curve(camera, body.id.as_str(), (&body.motion.x, Shown::X(order)), order, 1.0))
            .collect()
    };
    let mut speeds = along(1);
    let mut accelerations = along(2);
    for record in records.iter().filter(|record| record.plan.axis == AxisEntry::X) {
        let Some(body) = moving.iter().find(|body| body.id == record.plan.body) else { continue };
        let Some((speed, acceleration)) = channel_curves(record, body, contact_s, options) else { continue };
        let in_class = in_class(body, CfcClass::Cfc60);
        let is_new = |curve: &Curve| accelerations.iter().all(|drawn| drawn.label != curve.label);
        let in_class = in_class.filter(is_new);
        accelerations.extend(in_class);
        speeds.push(speed);
        accelerations.push(acceleration);
    }
    speeds.extend(means.speeds.iter().cloned());
    accelerations.extend(means.accelerations.iter().cloned());
    let degree = 1.0_f64.to_degrees();
    let pitch = moving
        .iter()
        .filter_map(|body| Some((body.id.as_str(), body.motion.angle.as_ref()?)))
        .map(|(id, angle)| film_curve(camera, id, (angle, Shown::Angle(0)), 0, degree))
        .collect();
    let rise = moving.iter().map(|body| rise_curve(camera, body, contact_s)).collect();
    let crush = camera
        .motion
        .crush
        .iter()
        .map(|line| film_curve(camera, &line.id, (&line.depth, Shown::Depth), 0, 1.0))
        .collect();
    vec![
        panel("Speed along the path", "m/s", speeds),
        panel("Acceleration along the path (channels CFC 60)", "m/s2", accelerations),
        panel("Pitch, nose up", "deg", pitch),
        panel("Rise of the body's point since contact", "m", rise),
        panel("Crush", "m", crush),
        panel("Place along the path", "m", along(0)),
    ]
}

/// Puts a curve into the diagram of speed, which comes first.
pub(crate) fn add_speed(panels: &mut [Panel], curve: Option<Curve>) {
    panels.iter_mut().take(1).for_each(|speeds| speeds.curves.extend(curve.clone()));
}

/// Puts the instants named by hand into every diagram, at the time of their own camera's clock.
pub(crate) fn mark_events(panels: &mut [Panel], events: &[EventEntry], cameras: &[Budgeted<'_>]) {
    let marker = |event: &EventEntry| {
        let camera = cameras.iter().find(|camera| camera.inputs.camera.id.as_str() == event.camera)?;
        let time_s = *camera.motion.times_s.get(event.frame as usize)?;
        Some(PanelMarker { time_s, label: event.id.clone() })
    };
    let markers: Vec<PanelMarker> = events.iter().filter_map(marker).collect();
    for panel in panels {
        panel.markers.extend(markers.iter().cloned());
    }
}

fn film_curve(
    camera: &Budgeted<'_>,
    subject: &str,
    (curve, shown): (&Smoothed, Shown),
    order: usize,
    factor: f64,
) -> Curve {
    let own = |index: usize| curve.covs[index][order][order];
    let u = camera.u_of(subject, shown, own, curve.times_s.len());
    let values = curve.times_s.iter().zip(&curve.states);
    let points =
        values.map(|(&time_s, state)| CurvePoint { time_s, value: Some(state[order] * factor) }).collect();
    let half_width = u.iter().map(|u| Some(COVERAGE_95 * u * factor)).collect();
    Curve {
        label: format!("{subject}, film"),
        source: "film".into(),
        points,
        band: Some(CurveBand { half_width }),
    }
}

/// Height against that at contact: the plane's own zero means nothing to a reader, and its doubt does not touch a rise.
fn rise_curve(camera: &Budgeted<'_>, body: &BodyState, contact_s: f64) -> Curve {
    let rest_m = body.motion.z.at(contact_s).map_or(0.0, |(state, _)| state[0]);
    let mut curve = film_curve(camera, body.id.as_str(), (&body.motion.z, Shown::Rise), 0, 1.0);
    for point in &mut curve.points {
        point.value = point.value.map(|value| value - rest_m);
    }
    curve
}

/// A channel as speed (integrated from the film's speed at contact) and as acceleration (CFC 60).
fn channel_curves(
    record: &Record<'_>,
    body: &BodyState,
    contact_s: f64,
    options: &RunOptions,
) -> Option<(Curve, Curve)> {
    let channel = record.channel.as_ref().ok()?;
    let (zeroed, _) = prepared(channel, &record.plan.without, contact_s, options).ok()?;
    let (first_s, last_s) = (*body.motion.x.times_s.first()?, *body.motion.x.times_s.last()?);
    let (at_contact, _) = body.motion.x.at(contact_s)?;
    let integral = filmgauge_sensors::integrate(&zeroed, 0.0).ok()?;
    let start = integral.at(contact_s, filmgauge_sensors::Interpolation::Linear)?;
    let smooth = filmgauge_sensors::cfc(
        &zeroed.values,
        zeroed.sample_rate_hz(),
        CfcClass::Cfc60,
        StartRule::default(),
    )
    .ok()?;
    let inside: Vec<usize> = (0..zeroed.values.len())
        .filter(|&index| (first_s..=last_s).contains(&zeroed.time_s(index)))
        .collect();
    let step = inside.len().div_ceil(CHANNEL_POINTS).max(1);
    let curve = |value: &dyn Fn(usize) -> f64| Curve {
        label: format!("{}, {}", body.id, record.plan.code),
        source: "sensor".into(),
        points: inside
            .iter()
            .step_by(step)
            .map(|&index| CurvePoint { time_s: zeroed.time_s(index), value: Some(value(index)) })
            .collect(),
        band: None,
    };
    let speed = curve(&|index| at_contact[1] + integral.values[index] - start);
    let acceleration = curve(&|index| smooth[index]);
    Some((speed, acceleration))
}
