//! Nose-down pitch, and how steeply the c.g. climbs.

use super::super::evaluate::{BodyState, CameraMotion, Inputs};
use super::impact::needed;
use super::{Made, Raw, Why, after_contact};
use crate::document::Role;
use filmgauge_motion::Side;

pub(super) fn findings(inputs: &Inputs<'_>, motion: &CameraMotion) -> Vec<Raw> {
    let Some(striking) = inputs.plan.bodies.iter().find(|body| body.role == Role::Striking) else {
        return Vec::new();
    };
    let subject = striking.id.as_str();
    let mut list = pitch_down(motion, subject);
    list.push(ramp_angle(motion, subject));
    list
}

fn pitch_down(motion: &CameraMotion, subject: &str) -> Vec<Raw> {
    let least = needed(motion, Role::Striking).map_err(Why::from).and_then(|body| {
        let angle = body.motion.angle.as_ref();
        let angle = angle.ok_or_else(|| format!("{subject} has one target only, so no angle"))?;
        let least = after_contact(motion, angle, 0, Side::Least)?;
        let u = least.u.hypot(body.level_u_rad);
        if least.value > -2.0 * u {
            return Err(Why::absent("the nose does not go below its attitude before contact"));
        }
        Ok((least, u))
    });
    let interval_s = |time_s: f64| [motion.contact_s(), time_s];
    let value = least.clone().map(|(least, u)| Made {
        value: -least.value.to_degrees(),
        marks_u: u.to_degrees(),
        interval_s: interval_s(least.time.as_s()),
    });
    let time = least.and_then(|(least, _)| {
        let u = least.time_u.ok_or_else(|| Why::absent("the nose still goes down when the film ends"))?;
        let time_s = least.time.as_s();
        Ok(Made { value: time_s, marks_u: u.as_s(), interval_s: interval_s(time_s) })
    });
    let method = |what: &str| {
        format!("{what} of the nose-down pitch against the attitude before contact, degree-7 spline")
    };
    vec![
        Raw::new("pitch_down_max", subject, "deg", value, method("greatest value")),
        Raw::new("pitch_down_max_time", subject, "s", time, method("time of the greatest value")),
    ]
}

/// Below this share of the contact speed a direction of motion says little.
const FORWARD_SHARE: f64 = 0.25;

/// Direction of the body point's velocity when it rises fastest while it still moves forward.
fn ramp_angle(motion: &CameraMotion, subject: &str) -> Raw {
    let made = needed(motion, Role::Striking).map_err(Why::from).and_then(|body| {
        let contact_s = motion.contact.as_ref().map_err(Clone::clone)?.time_s;
        let until_s = forward_until(body, contact_s)?;
        let fastest = filmgauge_motion::extreme(&body.motion.z, 1, Side::Greatest, (contact_s, until_s))
            .map_err(|failure| failure.to_string())?;
        if fastest.value < 3.0 * fastest.u {
            return Err(Why::absent("it does not climb"));
        }
        let time_s = fastest.time.as_s();
        let (along, along_cov) = body.motion.x.at(time_s).ok_or("the film does not show it climb")?;
        let (v, w) = (along[1], fastest.value);
        let speed2 = v * v + w * w;
        // At the end of the interval its time is known as well as the speed that ends it.
        let end_u_s = along_cov[1][1].max(0.0).sqrt() / along[2].abs().max(1e-3);
        let by_time = fastest.time_u.map_or(end_u_s, |u| u.as_s()) * along[2] * w / speed2;
        let by_speeds = (v * fastest.u).hypot(w * along_cov[1][1].max(0.0).sqrt()) / speed2;
        let (value, marks_u) = (w.atan2(v).to_degrees(), by_speeds.hypot(by_time).to_degrees());
        Ok(Made { value, marks_u, interval_s: [motion.contact_s(), time_s] })
    });
    let point = motion.with_role(Role::Striking).map_or("body", |body| body.point);
    let method = format!(
        "direction of the velocity of the {point} above the horizontal when it rises fastest, \
         while it moves forward at more than {:.0} % of its speed at contact, splines of degree 7",
        100.0 * FORWARD_SHARE
    );
    Raw::new("ramp_angle", subject, "deg", made, method)
}

/// When the body first falls below its share of the speed at contact, or its last instant.
fn forward_until(body: &BodyState, contact_s: f64) -> Result<f64, String> {
    let curve = &body.motion.x;
    let (start, _) = curve.at(contact_s).ok_or("the film does not show contact")?;
    let after = curve.times_s.iter().zip(&curve.states).filter(|(time_s, _)| **time_s > contact_s);
    let forward = after.take_while(|(_, state)| state[1] > FORWARD_SHARE * start[1]).last();
    forward.map(|(time_s, _)| *time_s).ok_or_else(|| "the film ends before contact".into())
}
