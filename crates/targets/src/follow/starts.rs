//! Checks the starts before anything is followed, and gathers them into bodies.

use super::TargetStart;
use super::body::Body;
use crate::error::TargetsError;
use crate::locate::LEAST_RADIUS_PX;
use filmgauge_quantities::TargetKind;

/// Two starts in one frame nearer than this share of the smaller radius are one target.
const SAME_TARGET_SHARE: f64 = 0.5;

/// Greatest half side of a patch of texture, px.
const MOST_PATCH_RADIUS_PX: f64 = 200.0;

/// The first thing that is wrong with the starts.
pub(super) fn check(starts: &[TargetStart]) -> Result<(), TargetsError> {
    for (k, start) in starts.iter().enumerate() {
        let wrong = |why: String| Err(TargetsError::Start { target: start.id.clone(), why });
        if start.radius_px.is_nan() || start.radius_px < LEAST_RADIUS_PX || start.radius_px > 500.0 {
            return wrong(format!("radius {} px is not {LEAST_RADIUS_PX:.0} to 500 px", start.radius_px));
        }
        if start.kind == TargetKind::Patch && start.radius_px > MOST_PATCH_RADIUS_PX {
            return wrong(format!(
                "half a side of {} px is above {MOST_PATCH_RADIUS_PX:.0} px",
                start.radius_px
            ));
        }
        if !(start.start.x.is_finite() && start.start.y.is_finite()) {
            return wrong("its place is not a number".to_owned());
        }
        for other in &starts[..k] {
            if other.id == start.id {
                return wrong("this id is given twice".to_owned());
            }
            let apart = SAME_TARGET_SHARE * start.radius_px.min(other.radius_px);
            if other.start_frame == start.start_frame && other.start.distance(start.start) < apart {
                let frame = start.start_frame;
                return wrong(format!(
                    "in frame {frame} it is on the same target as {}; take one of the two out",
                    other.id
                ));
            }
        }
    }
    Ok(())
}

/// Bodies in order of first mention, with their members.
pub(super) fn bodies(starts: &[TargetStart]) -> Vec<Body> {
    let mut bodies: Vec<Body> = Vec::new();
    for (k, start) in starts.iter().enumerate() {
        let Some(id) = &start.body else { continue };
        if let Some(body) = bodies.iter_mut().find(|body| &body.id == id) {
            body.add(k, start.deforms);
        } else {
            let mut body = Body::new(id.clone());
            body.add(k, start.deforms);
            bodies.push(body);
        }
    }
    bodies
}
