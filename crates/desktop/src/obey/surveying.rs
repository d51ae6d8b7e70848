//! Survey points and known lengths that were shown in the film become lines of the dossier.

use super::placing::ends_u_px;
use crate::edits::{known_length, list, point_in_plane, point_in_space, set};
use crate::session::{Session, Taken};
use filmgauge_daybook::{Edit, Value};
use filmgauge_dossier::document::{LengthEntry, LengthPurpose, PlanePointEntry, SpacePointEntry};

/// The point whose name and coordinates were given, at the place shown.
pub(super) fn point(session: &Session, px: [f64; 2]) -> Option<(String, Vec<Edit>)> {
    let (index, camera) = (session.view.camera, session.camera()?);
    let pending = session.view.pending.as_ref()?;
    let name = pending.name.clone();
    let (key, points): (&str, Vec<Value>) = match (&camera.plane, &camera.pose, &pending.numbers[..]) {
        (Some(plane), _, &[x_m, z_m]) => {
            let others = plane.points.iter().filter(|point| point.name != name).cloned();
            let new = PlanePointEntry { name: name.clone(), px, m: [x_m, z_m] };
            ("plane.points", others.chain([new]).map(|point| point_in_plane(&point)).collect())
        }
        (None, Some(pose), &[x_m, y_m, z_m]) => {
            let others = pose.points.iter().filter(|point| point.name != name).cloned();
            let new = SpacePointEntry { name: name.clone(), px, m: [x_m, y_m, z_m] };
            ("pose.points", others.chain([new]).map(|point| point_in_space(&point)).collect())
        }
        _ => return None,
    };
    let mut edits = vec![set("camera", index, key, list(points.clone()))];
    let frame = i64::from(session.frame());
    if points.len() == 1 && frame != 0 {
        edits.push(set("camera", index, &key.replace("points", "frame"), frame));
    }
    Some((format!("surveyed point {name}"), edits))
}

/// The length whose name and size were given, between the ends shown.
pub(super) fn length(session: &Session, ends: [Taken; 2]) -> Option<(String, Vec<Edit>)> {
    let (index, camera) = (session.view.camera, session.camera()?);
    let pending = session.view.pending.as_ref()?;
    let &[length_m, uncertainty_m] = &pending.numbers[..] else { return None };
    let name = pending.name.clone();
    let others = camera.length.iter().filter(|length| length.name != name).cloned();
    let new = LengthEntry {
        name: name.clone(),
        from_px: ends[0].px,
        to_px: ends[1].px,
        length_m,
        uncertainty_m,
        uncertainty_px: ends_u_px(ends),
        purpose: LengthPurpose::Check,
        plane_offset_m: 0.0,
    };
    let lengths = others.chain([new]).map(|length| known_length(&length)).collect();
    Some((format!("known length {name}"), vec![set("camera", index, "length", list(lengths))]))
}
