//! Contact, speeds and push: what every camera along the path can say.

use super::super::evaluate::{BodyState, CameraMotion, Inputs};
use super::{Made, Raw, after_contact};
use crate::document::Role;
use filmgauge_motion::{NoiseSource, Pose, RunUp, Side};
use filmgauge_quantities::ViewPlane;

pub(super) fn findings(inputs: &Inputs<'_>, motion: &CameraMotion) -> Vec<Raw> {
    let mut list = Vec::new();
    let Some(striking) = inputs.plan.bodies.iter().find(|body| body.role == Role::Striking) else {
        return list;
    };
    // From above, a pitching roof travels otherwise than the vehicle's c.g.: only the level run-up speaks for it.
    let side = inputs.camera.view == ViewPlane::Side;
    let speed = contact_speed(inputs, motion, striking.id.as_str());
    list.push(contact_time(motion, striking.id.as_str()));
    list.push(speed.clone());
    if side {
        list.push(delta_v(motion, striking.id.as_str(), motion.with_role(Role::Striking), &speed));
    }
    if let Some(struck) = inputs.plan.bodies.iter().find(|body| body.role == Role::Struck) {
        list.push(push_distance(motion, struck.id.as_str()));
        list.push(peak_speed(motion, struck.id.as_str()));
        if side {
            list.push(rebound_speed(motion, striking.id.as_str()));
        }
    }
    list
}

fn contact_time(motion: &CameraMotion, subject: &str) -> Raw {
    let made = motion.kink.clone().map(|onset| Made {
        value: onset.time.value.as_s(),
        marks_u: onset.time.u.as_s(),
        interval_s: [onset.time.value.as_s(), onset.time.value.as_s()],
    });
    Raw {
        name: "contact_time",
        subject: subject.to_owned(),
        unit: "s",
        made,
        method: "kink of the run-up: constant speed, then a step and a ramp of acceleration, least squares"
            .into(),
        caution: None,
        also: Vec::new(),
        absent: false,
    }
}

/// Straight line through the striking body's run-up.
pub(super) fn run_up(inputs: &Inputs<'_>, motion: &CameraMotion, body: &BodyState) -> Result<RunUp, String> {
    motion.contact.as_ref().map_err(Clone::clone)?;
    let [from_s, to_s] = run_up_interval(inputs, motion);
    let place = |pose: &Option<Pose>| pose.as_ref().map(|pose| (pose.x_m, pose.cov[0][0]));
    let samples: Vec<_> = body.motion.poses.iter().map(place).collect();
    filmgauge_motion::run_up_speed(&motion.times_s, &samples, from_s, to_s, NoiseSource::Stated)
        .map_err(|failure| failure.to_string())
}

pub(super) fn run_up_interval(inputs: &Inputs<'_>, motion: &CameraMotion) -> [f64; 2] {
    let windows = &inputs.options.findings;
    let to_s = motion.contact_s() - windows.run_up_gap_s;
    [to_s - windows.run_up_s, to_s]
}

fn contact_speed(inputs: &Inputs<'_>, motion: &CameraMotion, subject: &str) -> Raw {
    let windows = &inputs.options.findings;
    let made = needed(motion, Role::Striking).and_then(|body| {
        let run_up = run_up(inputs, motion, body)?;
        Ok(Made {
            value: run_up.speed.value.as_m_s(),
            marks_u: run_up.speed.u.as_m_s(),
            interval_s: run_up_interval(inputs, motion),
        })
    });
    Raw {
        name: "contact_speed",
        subject: subject.to_owned(),
        unit: "m/s",
        made,
        method: format!(
            "straight line through the path of the {} over {:.0} ms, ending {:.0} ms before contact",
            motion.with_role(Role::Striking).map_or("body", |body| body.point),
            windows.run_up_s * 1e3,
            windows.run_up_gap_s * 1e3
        ),
        caution: None,
        also: Vec::new(),
        absent: false,
    }
}

fn delta_v(motion: &CameraMotion, subject: &str, body: Option<&BodyState>, speed: &Raw) -> Raw {
    let made = speed.made.clone().and_then(|before| {
        let body = body.ok_or("the striking body could not be measured")?;
        let least = after_contact(motion, &body.motion.x, 1, Side::Least)?;
        Ok(Made {
            value: before.value - least.value,
            marks_u: before.marks_u.hypot(least.u),
            interval_s: [before.interval_s[0], least.time.as_s()],
        })
    });
    Raw {
        name: "delta_v",
        subject: subject.to_owned(),
        unit: "m/s",
        made,
        method:
            "contact speed less the least speed along the path after contact, smoothing spline of degree 7"
                .into(),
        caution: None,
        also: Vec::new(),
        absent: false,
    }
}

fn push_distance(motion: &CameraMotion, subject: &str) -> Raw {
    let made = needed(motion, Role::Struck).and_then(|body| {
        let contact_s = motion.contact_s();
        let end_s = *body.motion.x.times_s.last().ok_or("the film has no frames")?;
        let (start, start_cov) = body.motion.x.at(contact_s).ok_or("the film does not show contact")?;
        let (end, end_cov) = body.motion.x.at(end_s).ok_or("the film does not show the end")?;
        if end_s <= contact_s {
            return Err("the film ends before contact".into());
        }
        Ok(Made {
            value: end[0] - start[0],
            marks_u: (start_cov[0][0] + end_cov[0][0]).max(0.0).sqrt(),
            interval_s: [contact_s, end_s],
        })
    });
    let moving = motion.with_role(Role::Struck).and_then(still_moving);
    Raw {
        name: "push_distance",
        subject: subject.to_owned(),
        unit: "m",
        made,
        method: "travel along the path from contact to the last frame, smoothing spline of degree 7".into(),
        caution: moving.map(|speed_m_s| {
            format!("the film ends while it still moves at {speed_m_s:.2} m/s: not its rest")
        }),
        also: Vec::new(),
        absent: false,
    }
}

/// Speed at the last frame when it stands out of its own noise.
fn still_moving(body: &BodyState) -> Option<f64> {
    let speed_m_s = body.motion.x.states.last()?[1];
    let u = body.motion.x.covs.last()?[1][1].max(0.0).sqrt();
    (speed_m_s.abs() > 3.0 * u && speed_m_s.abs() > 0.02).then_some(speed_m_s)
}

fn peak_speed(motion: &CameraMotion, subject: &str) -> Raw {
    let made = needed(motion, Role::Struck).and_then(|body| {
        let peak = after_contact(motion, &body.motion.x, 1, Side::Greatest)?;
        let interval_s = [motion.contact_s(), peak.time.as_s()];
        Ok(Made { value: peak.value, marks_u: peak.u, interval_s })
    });
    Raw {
        name: "peak_speed",
        subject: subject.to_owned(),
        unit: "m/s",
        made,
        method: "greatest speed along the path after contact, smoothing spline of degree 7".into(),
        caution: None,
        also: Vec::new(),
        absent: false,
    }
}

/// Greatest speed at which the bodies part again; 0 when they do not.
fn rebound_speed(motion: &CameraMotion, subject: &str) -> Raw {
    let made = needed(motion, Role::Striking).and_then(|striking| {
        let struck = needed(motion, Role::Struck)?;
        let parting =
            striking.motion.x.times_s.iter().enumerate().filter(|(_, time_s)| **time_s > motion.contact_s());
        let best = parting
            .filter_map(|(index, &time_s)| {
                let (own, own_cov) = (striking.motion.x.states[index], striking.motion.x.covs[index]);
                let (other, other_cov) = struck.motion.x.at(time_s)?;
                let u = (own_cov[1][1] + other_cov[1][1]).max(0.0).sqrt();
                Some((time_s, other[1] - own[1], u))
            })
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .ok_or("the film ends before contact")?;
        if striking.motion.x.times_s.last() == Some(&best.0) {
            return Err("the film ends before the bodies part or move as one".into());
        }
        Ok(Made { value: best.1.max(0.0), marks_u: best.2, interval_s: [motion.contact_s(), best.0] })
    });
    Raw {
        name: "rebound_speed",
        subject: subject.to_owned(),
        unit: "m/s",
        made,
        method: "greatest speed of the struck body over the striking body after contact".into(),
        caution: None,
        also: Vec::new(),
        absent: false,
    }
}

/// The body of a role, or why there is none.
pub(super) fn needed(motion: &CameraMotion, role: Role) -> Result<&BodyState, String> {
    motion.with_role(role).ok_or_else(|| {
        let part = if role == Role::Striking { "striking" } else { "struck" };
        let why = motion.troubles.iter().map(|(subject, why)| format!("{subject}: {why}"));
        let why = why.collect::<Vec<_>>().join("; ");
        format!(
            "the {part} body could not be measured ({})",
            if why.is_empty() { "no targets" } else { &why }
        )
    })
}
