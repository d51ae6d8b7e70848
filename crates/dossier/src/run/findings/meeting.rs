//! Common speed, parting and restitution.

use super::super::evaluate::{CameraMotion, Inputs};
use super::impact::needed;
use super::{Made, Raw, Why};
use crate::document::Role;
use filmgauge_motion::{CommonSpeed, MotionFailure};

pub(super) fn findings(inputs: &Inputs<'_>, motion: &CameraMotion, known: &[Raw]) -> Vec<Raw> {
    let plan = |role| inputs.plan.bodies.iter().find(|body| body.role == role);
    let (Some(striking), Some(_)) = (plan(Role::Striking), plan(Role::Struck)) else { return Vec::new() };
    let subject = striking.id.as_str();
    let common = common(motion);
    let contact_s = motion.contact_s();
    let figure = |of: &dyn Fn(&CommonSpeed) -> (f64, f64)| {
        common.clone().map(|common| {
            let (value, marks_u) = of(&common);
            Made { value, marks_u, interval_s: [contact_s, common.time.value.as_s()] }
        })
    };
    let speed = figure(&|common| (common.speed.value.as_m_s(), common.speed.u.as_m_s()));
    let time = figure(&|common| (common.time.value.as_s(), common.time.u.as_s()));
    let method = "first instant at which the striking body is no faster, splines of degree 7";
    vec![
        Raw::new("common_speed", subject, "m/s", speed.map_err(Why::from), method),
        Raw::new("common_speed_time", subject, "s", time.map_err(Why::from), method),
        separation(motion, subject),
        restitution(subject, known),
    ]
}

/// The bodies at one speed, or why they are not.
pub(crate) fn common(motion: &CameraMotion) -> Result<CommonSpeed, String> {
    motion.contact.as_ref().map_err(Clone::clone)?;
    let (striking, struck) = (needed(motion, Role::Striking)?, needed(motion, Role::Struck)?);
    filmgauge_motion::common_speed(&striking.motion.x, &struck.motion.x, motion.contact_s())
        .ok_or_else(|| "the film ends before both bodies have one speed".into())
}

fn separation(motion: &CameraMotion, subject: &str) -> Raw {
    let made = common(motion).map_err(Why::from).and_then(|common| {
        let (striking, struck) = (needed(motion, Role::Striking)?, needed(motion, Role::Struck)?);
        let from_s = common.time.value.as_s();
        let parting = filmgauge_motion::parting(
            &motion.times_s,
            (&striking.along, &striking.motion.x),
            (&struck.along, &struck.motion.x),
            from_s,
        );
        match parting {
            Ok(time) => {
                let value = time.value.as_s();
                Ok(Made { value, marks_u: time.u.as_s(), interval_s: [from_s, value] })
            }
            Err(MotionFailure::NoOnset) => Err(Why::absent("the bodies do not part within the film")),
            Err(failure) => Err(failure.to_string().into()),
        }
    });
    let method = "end of the force between the bodies after the common speed, taken to fade like a spring's";
    let caution = "a force that fades otherwise than a spring's moves it by some milliseconds";
    Raw { caution: Some(caution.into()), ..Raw::new("separation_time", subject, "s", made, method) }
}

fn restitution(subject: &str, known: &[Raw]) -> Raw {
    let made = |name: &str| {
        let raw = known.iter().find(|raw| raw.name == name);
        raw.map_or_else(|| Err(format!("{name} was not measured")), |raw| raw.made.clone())
    };
    let ratio = made("closing_speed").and_then(|closing| {
        let rebound = made("rebound_speed")?;
        if closing.value <= 0.0 {
            return Err("the bodies did not close".into());
        }
        let value = rebound.value / closing.value;
        let marks_u = rebound.marks_u.hypot(value * closing.marks_u) / closing.value;
        Ok(Made { value, marks_u, interval_s: rebound.interval_s })
    });
    let method = "rebound speed over closing speed";
    Raw::new("restitution", subject, "1", ratio.map_err(Why::from), method)
}
