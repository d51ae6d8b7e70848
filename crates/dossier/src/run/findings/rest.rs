//! Where the bodies come to rest, and from above which way the struck body was pushed.

use super::super::evaluate::{BodyState, CameraMotion, Inputs};
use super::impact::needed;
use super::{Made, Raw, Why};
use crate::document::Role;
use filmgauge_motion::{Figure, bearing};
use filmgauge_quantities::ViewPlane;

/// A body is at rest below this speed, m/s, when the speed does not stand out of its noise either.
const REST_M_S: f64 = 0.05;
/// A film must go on for so long after the last mark before the body counts as out of view, s.
const LOST_S: f64 = 0.010;

pub(super) fn findings(inputs: &Inputs<'_>, motion: &CameraMotion) -> Vec<Raw> {
    let mut list = Vec::new();
    for role in [Role::Striking, Role::Struck] {
        let Some(body) = inputs.plan.bodies.iter().find(|body| body.role == role) else { continue };
        // From above, a pitching roof travels otherwise than the vehicle.
        if inputs.camera.view == ViewPlane::Side || role == Role::Struck {
            list.push(rest_distance(motion, body.id.as_str(), role));
        }
        if inputs.camera.view == ViewPlane::Overhead && role == Role::Struck {
            list.push(push_heading(motion, body.id.as_str()));
        }
    }
    list
}

fn rest_distance(motion: &CameraMotion, subject: &str, role: Role) -> Raw {
    let made = needed(motion, role).map_err(Why::from).and_then(|body| {
        let contact_s = motion.contact.as_ref().map_err(Clone::clone)?.time_s;
        let (start, start_cov) = body.motion.x.at(contact_s).ok_or("the film does not show contact")?;
        let end_s = at_rest(motion, body)?;
        let (end, end_cov) = body.motion.x.at(end_s).ok_or("the film does not show the end")?;
        let marks_u = (start_cov[0][0] + end_cov[0][0]).max(0.0).sqrt();
        Ok(Made { value: end[0] - start[0], marks_u, interval_s: [contact_s, end_s] })
    });
    let method = "travel along the path from contact to rest, spline of degree 7";
    Raw::new("rest_distance", subject, "m", made, method)
}

/// The last instant of a body that has come to rest in view.
fn at_rest(motion: &CameraMotion, body: &BodyState) -> Result<f64, Why> {
    let curve = &body.motion.x;
    let (Some(&end_s), Some(state), Some(cov)) =
        (curve.times_s.last(), curve.states.last(), curve.covs.last())
    else {
        return Err("the film has no frames".into());
    };
    let (speed, u) = (state[1].abs(), cov[1][1].max(0.0).sqrt());
    if speed <= REST_M_S.max(3.0 * u) && 3.0 * u < 10.0 * REST_M_S {
        return Ok(end_s);
    }
    let film_s = motion.times_s.last().copied().unwrap_or(end_s);
    let text = if film_s - end_s > LOST_S {
        format!(
            "it leaves the picture at {:.2} m/s, {:.0} ms before the film ends",
            speed,
            1e3 * (film_s - end_s)
        )
    } else {
        format!("it still moves at {speed:.2} m/s when the film ends")
    };
    Err(Why::Absent(text))
}

/// Direction of the struck body's travel against the reference line.
fn push_heading(motion: &CameraMotion, subject: &str) -> Raw {
    let made = needed(motion, Role::Struck).map_err(Why::from).and_then(|body| {
        let contact_s = motion.contact.as_ref().map_err(Clone::clone)?.time_s;
        let end_s = *body.motion.x.times_s.last().ok_or("the film has no frames")?;
        let travel = |curve: &filmgauge_motion::Smoothed| {
            let ((start, start_cov), (end, end_cov)) = (curve.at(contact_s)?, curve.at(end_s)?);
            let u = (start_cov[0][0] + end_cov[0][0]).max(0.0).sqrt();
            Some(Figure { value: end[0] - start[0], u })
        };
        let missed = "the film does not show contact and the end";
        let (x, y) = (travel(&body.motion.x).ok_or(missed)?, travel(&body.motion.z).ok_or(missed)?);
        let heading = bearing(x, y).filter(|_| x.value.hypot(y.value) >= 5.0 * x.u.hypot(y.u));
        let heading = heading.ok_or_else(|| Why::absent("it is hardly pushed"))?;
        let (value, marks_u) = (heading.value.to_degrees(), heading.u.to_degrees());
        Ok(Made { value, marks_u, interval_s: [contact_s, end_s] })
    });
    let method = "direction of the travel from contact to the last frame against the reference line, to the left positive";
    Raw::new("push_heading", subject, "deg", made, method)
}
