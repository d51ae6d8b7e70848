//! Nose-down pitch, and how steeply the c.g. climbs.

use super::super::evaluate::{BodyState, CameraMotion, Inputs};
use super::impact::needed;
use super::{Made, Raw, Why, after_contact};
use crate::document::Role;
use filmgauge_motion::{Side, Smoothed};

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

/// Stretch over which the direction is taken, s: long enough that noise does not choose it.
const STRETCH_S: f64 = 0.050;

/// Steepest direction of the body point's path while it still moves forward.
fn ramp_angle(motion: &CameraMotion, subject: &str) -> Raw {
    let made = needed(motion, Role::Striking).map_err(Why::from).and_then(|body| {
        let contact_s = motion.contact.as_ref().map_err(Clone::clone)?.time_s;
        let until_s = forward_until(body, contact_s)?;
        let frames = body.motion.x.times_s.iter().copied();
        let starts = frames.filter(|&time_s| time_s > contact_s && time_s + STRETCH_S < until_s);
        let last = std::iter::once(until_s - STRETCH_S).filter(|&time_s| time_s >= contact_s);
        let steepest = std::iter::once(contact_s)
            .filter(|&time_s| time_s + STRETCH_S <= until_s)
            .chain(starts)
            .chain(last)
            .filter_map(|time_s| Some((time_s, direction(body, time_s)?)))
            .max_by(|a, b| a.1.0.total_cmp(&b.1.0));
        let short = "it does not move forward for long enough after contact";
        let (time_s, (angle_rad, u_rad)) = steepest.ok_or(short)?;
        if angle_rad < 3.0 * u_rad {
            return Err(Why::absent("it does not climb"));
        }
        let (value, marks_u) = (angle_rad.to_degrees(), u_rad.to_degrees());
        Ok(Made { value, marks_u, interval_s: [time_s, time_s + STRETCH_S] })
    });
    let point = motion.with_role(Role::Striking).map_or("body", |body| body.point);
    let method = format!(
        "steepest direction of the path of the {point} above the horizontal over {:.0} ms while it moves forward at \
         more than {:.0} % of its speed at contact, splines of degree 7",
        1e3 * STRETCH_S,
        100.0 * FORWARD_SHARE
    );
    Raw::new("ramp_angle", subject, "deg", made, method)
}

/// Direction of the path over one stretch above the horizontal, and its standard uncertainty, rad.
fn direction(body: &BodyState, from_s: f64) -> Option<(f64, f64)> {
    let step = |curve: &Smoothed| {
        let ((start, start_cov), (end, end_cov)) = (curve.at(from_s)?, curve.at(from_s + STRETCH_S)?);
        Some((end[0] - start[0], (start_cov[0][0] + end_cov[0][0]).max(0.0).sqrt()))
    };
    let ((x, x_u), (z, z_u)) = (step(&body.motion.x)?, step(&body.motion.z)?);
    Some((z.atan2(x), (x * z_u).hypot(z * x_u) / (x * x + z * z)))
}

/// When the body first falls below its share of the speed at contact, or its last instant.
fn forward_until(body: &BodyState, contact_s: f64) -> Result<f64, String> {
    let curve = &body.motion.x;
    let (start, _) = curve.at(contact_s).ok_or("the film does not show contact")?;
    let least = FORWARD_SHARE * start[1];
    let after = curve.times_s.iter().zip(&curve.states).filter(|(time_s, _)| **time_s > contact_s);
    let mut before_s = contact_s;
    for (&time_s, state) in after {
        if state[1] > least {
            before_s = time_s;
            continue;
        }
        let (mut low, mut high) = (before_s, time_s);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            let faster = curve.at(middle).is_some_and(|(state, _)| state[1] > least);
            if faster { low = middle } else { high = middle }
        }
        return Ok(high);
    }
    if before_s > contact_s { Ok(before_s) } else { Err("the film ends before contact".into()) }
}
