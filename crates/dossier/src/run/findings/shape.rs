//! Pitch, climb, crush and cushion stroke: what a side camera can say.

use super::super::evaluate::{CameraMotion, CrushState, Inputs};
use super::impact::needed;
use super::{Made, Raw, Why, greatest_and_time};
use crate::document::Role;
use crate::plan::CrushPlan;
use filmgauge_quantities::PlanePoint;

pub(super) fn findings(inputs: &Inputs<'_>, motion: &CameraMotion) -> Vec<Raw> {
    let Some(striking) = inputs.plan.bodies.iter().find(|body| body.role == Role::Striking) else {
        return Vec::new();
    };
    let mut list = pitch(motion, striking.id.as_str());
    list.push(climb(inputs, motion, striking.id.as_str()));
    let seen = |line: &&CrushPlan| inputs.camera.targets.iter().any(|target| target.id == line.target);
    for line in inputs.plan.crush.iter().filter(seen) {
        let state = motion.crush.iter().find(|state| state.id == line.id);
        list.extend(crush(motion, &line.id, state));
        list.extend(cushion_stroke(motion, &line.id, state));
    }
    list
}

fn pitch(motion: &CameraMotion, subject: &str) -> Vec<Raw> {
    let turning = needed(motion, Role::Striking).and_then(|body| {
        let angle = body.motion.angle.as_ref();
        Ok((body, angle.ok_or_else(|| format!("{subject} has one target only, so no angle"))?))
    });
    let (angle, time) = match turning {
        Ok((body, angle)) => {
            let (angle, time) = greatest_and_time(motion, angle, "pitch");
            let in_degrees = |made: Made| Made {
                value: made.value.to_degrees(),
                marks_u: made.marks_u.hypot(body.level_u_rad).to_degrees(),
                ..made
            };
            (angle.map(in_degrees), time)
        }
        Err(why) => (Err(why.clone()), Err(why)),
    };
    let raw = |name, unit, made, what: &str| Raw {
        name,
        subject: subject.to_owned(),
        unit,
        made,
        method: format!("{what} of the nose-up pitch against the attitude before contact, degree-7 spline"),
        caution: None,
        also: Vec::new(),
        absent: false,
    };
    vec![
        raw("pitch_up_max", "deg", angle, "greatest value"),
        raw("pitch_up_max_time", "s", time, "time of the greatest value"),
    ]
}

/// Rise of the climb point: a target's place on the body, or the body's point.
fn climb(inputs: &Inputs<'_>, motion: &CameraMotion, subject: &str) -> Raw {
    let chosen = inputs.plan.climb_point.as_ref();
    let made = needed(motion, Role::Striking).and_then(|body| {
        let place = match chosen {
            None => PlanePoint::default(),
            Some(target) => {
                let found = body.places.iter().find(|(id, _)| id == target);
                found.ok_or_else(|| format!("climb point {target} is no rigid target of {subject}"))?.1
            }
        };
        let height = |time_s: f64| {
            let point = filmgauge_motion::body_point(&body.motion, place, time_s)?;
            Some((point.place.z_m, point.place_u_m[1].powi(2)))
        };
        let from_s = motion.contact_s();
        let (rest_m, rest_u2) = height(from_s).ok_or("the film does not show contact")?;
        let after = body.motion.z.times_s.iter().filter(|time_s| **time_s >= from_s);
        let peak = after
            .filter_map(|&time_s| height(time_s).map(|(z_m, u2)| (time_s, z_m, u2)))
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .ok_or("the film ends before contact")?;
        Ok(Made { value: peak.1 - rest_m, marks_u: (peak.2 + rest_u2).sqrt(), interval_s: [from_s, peak.0] })
    });
    let point = chosen.map_or_else(
        || motion.with_role(Role::Striking).map_or("body", |body| body.point).to_owned(),
        |target| format!("target {target}"),
    );
    Raw {
        name: "climb_max",
        subject: subject.to_owned(),
        unit: "m",
        made,
        method: format!("greatest rise of the {point} after contact, smoothing spline of degree 7"),
        caution: None,
        also: Vec::new(),
        absent: false,
    }
}

fn crush(motion: &CameraMotion, id: &str, state: Option<&CrushState>) -> Vec<Raw> {
    let (depth, time, last) = match state {
        Some(state) => {
            let (depth, time) = greatest_and_time(motion, &state.depth, "crush");
            let last = crush_at_end(state, time.is_err());
            (depth, time, last)
        }
        None => {
            let why = missing(motion, id);
            (Err(why.clone()), Err(why.clone()), Err(why))
        }
    };
    let raw = |name, unit, made, what: &str| Raw {
        name,
        subject: id.to_owned(),
        unit,
        made,
        method: format!("{what} from the crush target to its body along the body's axis, degree-7 spline"),
        caution: None,
        also: Vec::new(),
        absent: false,
    };
    vec![
        raw("crush_max", "m", depth, "greatest shortening"),
        raw("crush_max_time", "s", time, "time of the greatest shortening"),
        raw("crush_final", "m", last, "shortening at the last frame,"),
    ]
}

fn crush_at_end(state: &CrushState, still_grows: bool) -> Result<Made, String> {
    if still_grows {
        return Err("the film ends while the crush still grows".into());
    }
    let end_s = *state.depth.times_s.last().ok_or("the film has no frames")?;
    let (depth, cov) = state.depth.at(end_s).ok_or("the film does not show the end")?;
    Ok(Made { value: depth[0], marks_u: cov[0][0].max(0.0).sqrt(), interval_s: [end_s, end_s] })
}

/// Closing of the car's nose and the struck body since contact, and when it is greatest.
fn cushion_stroke(motion: &CameraMotion, id: &str, state: Option<&CrushState>) -> [Raw; 2] {
    let made = state.ok_or_else(|| missing(motion, id)).and_then(|state| greatest_stroke(motion, state));
    let (stroke, time) = match made {
        Ok((stroke, time)) => (Ok(stroke), time),
        Err(why) => (Err(why.clone()), Err(why)),
    };
    let raw = |name, unit, made: Result<Made, String>, what: &str| {
        let method =
            format!("{what} closing of the crush target and the struck body along the path since contact");
        Raw::new(name, id, unit, made.map_err(Why::from), method)
    };
    [
        raw("cushion_stroke_max", "m", stroke, "greatest"),
        raw("cushion_stroke_max_time", "s", time, "time of the greatest"),
    ]
}

type StrokeAndTime = (Made, Result<Made, String>);

fn greatest_stroke(motion: &CameraMotion, state: &CrushState) -> Result<StrokeAndTime, String> {
    let from_s = motion.contact_s();
    let struck = needed(motion, Role::Struck)?;
    let gap = |time_s: f64| {
        let (nose, nose_cov) = state.nose_x.at(time_s)?;
        let (rear, rear_cov) = struck.motion.x.at(time_s)?;
        let u2 = [0, 1].map(|k| (nose_cov[k][k] + rear_cov[k][k]).max(0.0));
        Some(([rear[0] - nose[0], rear[2] - nose[2]], u2))
    };
    // The nose's speed may jump at contact, which a smooth curve rounds off: its place there is that of the body.
    let own = motion.bodies.iter().find(|body| body.id == state.body).ok_or("its body was not measured")?;
    let ((own, own_cov), (rear, rear_cov)) =
        own.motion.x.at(from_s).zip(struck.motion.x.at(from_s)).ok_or("the film does not show contact")?;
    let (start_m, start_u2) = (rear[0] - own[0] - state.ahead_m, (own_cov[0][0] + rear_cov[0][0]).max(0.0));
    let after = state.nose_x.times_s.iter().filter(|time_s| **time_s >= from_s);
    let peak = after
        .filter_map(|&time_s| gap(time_s).map(|(gap, u2)| (time_s, gap, u2)))
        .max_by(|a, b| (start_m - a.1[0]).total_cmp(&(start_m - b.1[0])))
        .ok_or("the film ends before contact")?;
    let (time_s, [gap_m, bend], [place_u2, speed_u2]) = peak;
    let interval_s = [from_s, time_s];
    let stroke = Made { value: start_m - gap_m, marks_u: (place_u2 + start_u2).sqrt(), interval_s };
    let is_inner = state.nose_x.times_s.last().is_some_and(|&last| time_s < last) && bend > 0.0;
    // The frame nearest to the peak: evenly spread over one frame besides the noise.
    let frame_s = state.nose_x.times_s.windows(2).next().map_or(0.0, |pair| pair[1] - pair[0]);
    let time = if is_inner {
        Ok(Made {
            value: time_s,
            marks_u: (speed_u2.sqrt() / bend).hypot(frame_s / 12.0_f64.sqrt()),
            interval_s,
        })
    } else {
        Err("the cushion is still closing when the film ends".into())
    };
    Ok((stroke, time))
}

fn missing(motion: &CameraMotion, id: &str) -> String {
    let why = motion.troubles.iter().find(|(subject, _)| subject == id).map(|(_, why)| why.as_str());
    why.unwrap_or("its target or its body could not be measured").to_owned()
}
