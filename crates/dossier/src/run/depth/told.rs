//! What the sheet says of depth that another camera tells, and the notice where that camera is silent.

use super::Depth;
use crate::run::budget::Budgeted;
use crate::run::evaluate::Inputs;
use filmgauge_results::{Notice, Severity};

/// Which bodies' motion along the line of sight is known, and from where.
pub(crate) fn line(inputs: &Inputs<'_>) -> Option<String> {
    let from = inputs.camera.depth_from.as_ref()?;
    let bodies: Vec<&str> = inputs.depths.iter().map(|depth| depth.body.as_str()).collect();
    let bodies = if bodies.is_empty() { "no body".to_owned() } else { bodies.join(", ") };
    Some(format!("of {bodies}, as camera {} sees them come nearer and turn", from.camera))
}

/// Frames of which the camera that tells depth knows nothing.
pub(crate) fn notice(camera: &Budgeted<'_>) -> Option<Notice> {
    let from = camera.inputs.camera.depth_from.as_ref()?;
    let (first_s, last_s) = (*camera.motion.times_s.first()?, *camera.motion.times_s.last()?);
    let place = format!("camera {}", camera.inputs.camera.id);
    if camera.inputs.depths.is_empty() {
        return Some(Notice {
            severity: Severity::Person,
            place,
            text: format!(
                "camera {} tells the motion of no moving body, so depth is taken as at rest",
                from.camera
            ),
            remedy: "Follow the bodies there too, or take depth_from out".into(),
        });
    }
    let interval = |depth: &Depth| depth.interval_s();
    let (from_s, to_s) = camera
        .inputs
        .depths
        .iter()
        .map(interval)
        .fold((f64::NEG_INFINITY, f64::INFINITY), |(from_s, to_s), [first_s, last_s]| {
            (from_s.max(first_s), to_s.min(last_s))
        });
    (from_s > first_s || to_s < last_s).then(|| Notice {
        severity: Severity::Warning,
        place,
        text: format!(
            "camera {} tells depth from {from_s:.3} s to {to_s:.3} s; outside, depth is held as at the nearer end",
            from.camera
        ),
        remedy: "Use figures outside with care".into(),
    })
}
