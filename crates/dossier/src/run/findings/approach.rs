//! How the bodies met: closing speed, and from above the angle and the lateral offset.

use super::super::evaluate::{BodyState, CameraMotion, Inputs};
use super::impact::{needed, run_up, run_up_interval};
use super::{Made, Raw, Why};
use crate::document::Role;
use filmgauge_motion::{Figure, NoiseSource, bearing};
use filmgauge_quantities::{PlanePoint, Speed, Uncertain, ViewPlane};

pub(super) fn findings(inputs: &Inputs<'_>, motion: &CameraMotion, known: &[Raw]) -> Vec<Raw> {
    let plan = |role| inputs.plan.bodies.iter().find(|body| body.role == role);
    let Some(striking) = plan(Role::Striking) else { return Vec::new() };
    let subject = striking.id.as_str();
    let mut list = Vec::new();
    if plan(Role::Struck).is_some() {
        list.push(closing_speed(inputs, motion, subject, known));
    }
    if inputs.camera.view == ViewPlane::Overhead {
        list.push(contact_angle(inputs, motion, subject));
        if plan(Role::Struck).is_some() {
            list.push(lateral_offset(inputs, motion, subject));
        }
    }
    list
}

fn closing_speed(inputs: &Inputs<'_>, motion: &CameraMotion, subject: &str, known: &[Raw]) -> Raw {
    let own = known.iter().find(|raw| raw.name == "contact_speed").map(|raw| raw.made.clone());
    let made = own.unwrap_or_else(|| Err("the run-up was not measured".into())).and_then(|own| {
        let other = run_up(inputs, motion, needed(motion, Role::Struck)?)?.speed;
        let value = own.value - other.value.as_m_s();
        Ok(Made { value, marks_u: own.marks_u.hypot(other.u.as_m_s()), interval_s: own.interval_s })
    });
    let method = "straight lines through both bodies' paths before contact, striking less struck";
    Raw::new("closing_speed", subject, "m/s", made.map_err(Why::from), method)
}

/// Direction of the run-up against the plane's x axis.
fn contact_angle(inputs: &Inputs<'_>, motion: &CameraMotion, subject: &str) -> Raw {
    let made = needed(motion, Role::Striking).and_then(|body| {
        let along = run_up(inputs, motion, body)?.speed;
        let interval_s = run_up_interval(inputs, motion);
        let places: Vec<_> = body
            .motion
            .poses
            .iter()
            .map(|pose| pose.as_ref().map(|pose| (pose.z_m, pose.cov[1][1])))
            .collect();
        let [from_s, to_s] = interval_s;
        let across =
            filmgauge_motion::run_up_speed(&motion.times_s, &places, from_s, to_s, NoiseSource::Stated)
                .map_err(|failure| failure.to_string())?
                .speed;
        let figure = |speed: Uncertain<Speed>| Figure { value: speed.value.as_m_s(), u: speed.u.as_m_s() };
        let angle = bearing(figure(along), figure(across)).ok_or("it does not run up")?;
        Ok(Made { value: angle.value.to_degrees(), marks_u: angle.u.to_degrees(), interval_s })
    });
    let method = "direction of the run-up against the reference line, to the left positive, straight lines";
    Raw::new("contact_angle", subject, "deg", made.map_err(Why::from), method)
}

/// How far the striking body's middle lies to the left of the struck one's at contact.
fn lateral_offset(inputs: &Inputs<'_>, motion: &CameraMotion, subject: &str) -> Raw {
    let made = needed(motion, Role::Striking).and_then(|own| {
        let other = needed(motion, Role::Struck)?;
        let contact_s = motion.contact.as_ref().map_err(Clone::clone)?.time_s;
        let (own, own_u2) = middle(inputs, own, contact_s)?;
        let (other, other_u2) = middle(inputs, other, contact_s)?;
        Ok(Made {
            value: own - other,
            marks_u: (own_u2 + other_u2).sqrt(),
            interval_s: [contact_s, contact_s],
        })
    });
    let is_told = inputs.plan.bodies.iter().any(|body| body.middle_from.is_some());
    let raw = Raw::new(
        "lateral_offset",
        subject,
        "m",
        made.map_err(Why::from),
        "place across the path at contact, striking less struck, to the left positive, spline of degree 7",
    );
    let caution = "between the mean places of the targets: give middle_from of both bodies for their middles";
    Raw { caution: (!is_told).then(|| caution.into()), ..raw }
}

/// Place of a body's middle across the path, with the variance of the marks.
fn middle(inputs: &Inputs<'_>, body: &BodyState, time_s: f64) -> Result<(f64, f64), String> {
    let plan = inputs.plan.body(&body.id).and_then(|plan| plan.middle_from.as_ref());
    let lever = match plan {
        None => PlanePoint::default(),
        Some((target, step)) => {
            let place = body.places.iter().find(|(id, _)| id == target);
            place.ok_or_else(|| format!("{target} is no target of {} in this camera", body.id))?.1 + *step
        }
    };
    let point = filmgauge_motion::body_point(&body.motion, lever, time_s);
    let point = point.ok_or_else(|| format!("the film does not show {} at contact", body.id))?;
    Ok((point.place.z_m, point.place_u_m[1].powi(2)))
}
