//! Greatest accelerations along the path from film: as they are, and as means over 10 and 50 ms.

use super::super::evaluate::{CameraMotion, Inputs};
use super::impact::needed;
use super::{Made, Raw, Why};
use crate::document::Role;

/// Windows of the means, s, and the findings' names: of the striking body's deceleration and the struck one's acceleration.
const MEANS: [(f64, [&str; 2]); 2] = [
    (0.010, ["deceleration_10ms", "acceleration_10ms"]),
    (0.050, ["deceleration_50ms", "acceleration_50ms"]),
];

pub(super) fn findings(inputs: &Inputs<'_>, motion: &CameraMotion) -> Vec<Raw> {
    let mut list = Vec::new();
    for (at, role) in [Role::Striking, Role::Struck].into_iter().enumerate() {
        let Some(body) = inputs.plan.bodies.iter().find(|body| body.role == role) else { continue };
        let subject = body.id.as_str();
        list.push(peak(motion, subject, role));
        for (window_s, names) in MEANS {
            list.push(mean(motion, subject, role, window_s, names[at]));
        }
    }
    list
}

fn peak(motion: &CameraMotion, subject: &str, role: Role) -> Raw {
    let made = needed(motion, role).and_then(|body| {
        motion.contact.as_ref().map_err(Clone::clone)?;
        let (time_s, value, marks_u) = if role == Role::Striking {
            filmgauge_motion::greatest_deceleration(&body.motion.x, motion.contact_s())
        } else {
            filmgauge_motion::greatest_acceleration(&body.motion.x, motion.contact_s())
        }
        .map_err(|failure| failure.to_string())?;
        Ok(Made { value, marks_u, interval_s: [motion.contact_s(), time_s] })
    });
    let name = if role == Role::Striking { "deceleration_peak" } else { "acceleration_peak" };
    let method = "greatest value along the path after contact, spline of degree 7, not averaged";
    Raw::new(name, subject, "m/s2", made.map_err(Why::from), method)
}

fn mean(motion: &CameraMotion, subject: &str, role: Role, window_s: f64, name: &'static str) -> Raw {
    let made = needed(motion, role).and_then(|body| {
        motion.contact.as_ref().map_err(Clone::clone)?;
        let sign = if role == Role::Striking { -1.0 } else { 1.0 };
        let (from_s, value, marks_u) =
            filmgauge_motion::greatest_mean_acceleration(&body.motion.x, motion.contact_s(), window_s, sign)
                .map_err(|failure| failure.to_string())?;
        Ok(Made { value, marks_u, interval_s: [from_s, from_s + window_s] })
    });
    let ms = window_s * 1e3;
    let method =
        format!("greatest change of speed along the path over {ms:.0} ms after contact, over that time");
    Raw::new(name, subject, "m/s2", made.map_err(Why::from), method)
}
