//! Finding targets in the frame that is looked at, and deciding on what was found.

use super::editing::edit;
use super::placing::{NewTarget, new_target};
use super::viewing::look_through;
use crate::session::Session;
use crate::work::Spotting;
use eframe::egui::Context;
use filmgauge_dossier::NamedSpot;
use std::sync::Arc;

/// A find this near to a known target is that target, in its radii.
const SAME_SHARE: f64 = 0.7;

pub(super) fn spot(session: &mut Session, ctx: &Context) -> Option<String> {
    let camera = session.camera()?.id.clone();
    let frame = session.reel().and_then(|reel| reel.at(session.frame())).map(Arc::clone);
    let Some(frame) = frame else { return Some("The frame is still on its way; try again.".to_owned()) };
    let ctx = ctx.clone();
    let layout = session.view.layout.as_ref().map(|path| session.workbook.dossier().root.join(path));
    session.spotting = Some(Spotting::begin(camera, frame, layout, move || ctx.request_repaint()));
    None
}

/// Takes what a search came to.
pub(super) fn tend(session: &mut Session) -> Option<String> {
    let outcome = session.spotting.as_mut()?.outcome()?;
    session.spotting = None;
    let mut found = match outcome {
        Ok(found) => found,
        Err(text) => return Some(text),
    };
    let n = found.spots.len();
    found.spots.retain(|named| {
        let spot = &named.spot;
        let is_known = |place: [f64; 2]| {
            (place[0] - spot.centre.x).hypot(place[1] - spot.centre.y) < SAME_SHARE * spot.radius_px
        };
        let mut known = session
            .targets_of(&found.camera)
            .filter_map(|(_, target)| session.place_of(&found.camera, &target.id, found.frame));
        !known.any(is_known)
    });
    let (new, known) = (found.spots.len(), n - found.spots.len());
    let said = match (new, known) {
        (0, 0) => "No target was found in this frame; try another, or place them by hand.".to_owned(),
        (0, known) => format!("The {known} targets found here are all in the dossier already."),
        (new, 0) => format!("{new} targets found; press one to take it."),
        (new, known) => format!("{new} new targets found, besides {known} that are in the dossier."),
    };
    let unnamed =
        found.unnamed.clone().map_or_else(String::new, |why| format!(" The layout names none: {why}"));
    session.found = (new > 0).then_some(found);
    Some(said + &unnamed)
}

/// Makes the n-th found target one of the dossier's, or all of them.
pub(super) fn accept(session: &mut Session, ctx: &Context, n: Option<usize>) -> Option<String> {
    let found = session.found.clone()?;
    if session.body().is_none() {
        return Some("Add a body first: every target belongs to one.".to_owned());
    }
    session.view.frames.insert(found.camera.clone(), found.frame);
    let index = session.document().camera.iter().position(|camera| camera.id == found.camera)?;
    look_through(session, index);
    let wanted = found.spots.iter().enumerate().filter(|(at, _)| n.is_none_or(|n| n == *at));
    let (mut ids, mut edits) = (Vec::new(), Vec::new());
    for (_, NamedSpot { spot, id }) in wanted {
        let it = NewTarget {
            kind: spot.kind,
            centre: [spot.centre.x, spot.centre.y],
            radius_px: spot.radius_px,
            id: id.as_deref(),
        };
        let (id, edit) = new_target(session, &it, &ids)?;
        ids.push(id);
        edits.push(edit);
    }
    let act =
        if ids.len() == 1 { format!("target {}", ids[0]) } else { format!("targets {}", ids.join(", ")) };
    let said = edit(session, ctx, &act, &edits);
    if said.is_none() {
        reject(session, n);
    }
    said.or_else(|| Some(format!("Taken: {act}, on {}", session.body().unwrap_or_default())))
}

/// Leaves the n-th found target out, or all of them.
pub(super) fn reject(session: &mut Session, n: Option<usize>) -> Option<String> {
    match (n, &mut session.found) {
        (Some(n), Some(found)) if n < found.spots.len() && found.spots.len() > 1 => {
            found.spots.remove(n);
        }
        _ => session.found = None,
    }
    None
}
