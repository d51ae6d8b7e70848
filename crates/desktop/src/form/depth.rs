//! Which camera of the other view tells how bodies come nearer to this one and turn.

use super::fields;
use crate::command::Commands;
use crate::edits::{clear, inline, set};
use crate::session::Session;
use eframe::egui::Ui;
use filmgauge_dossier::document::DepthFromEntry;

/// Offered where another camera looks the other way.
pub(super) fn depth(ui: &mut Ui, session: &Session, index: usize, commands: &mut Commands) {
    let cameras = &session.document().camera;
    let own = &cameras[index];
    let others: Vec<&str> =
        cameras.iter().filter(|other| other.view != own.view).map(|other| other.id.as_str()).collect();
    if others.is_empty() && own.depth_from.is_none() {
        return;
    }
    let mut offered = vec![(0, "nobody")];
    offered.extend((1..).zip(others.iter().copied()));
    let known = own.depth_from.as_ref();
    let now = known.map_or(Some(0), |from| Some(1 + others.iter().position(|id| *id == from.camera)?));
    let act = format!("depth of camera {}", own.id);
    match fields::choice(ui, "How bodies come nearer and turn is told by", now, &offered) {
        Some(0) => commands.edit(act.clone(), vec![clear("camera", index, "depth_from")]),
        Some(place) => commands.edit(
            act.clone(),
            vec![set("camera", index, "depth_from", inline(vec![("camera", others[place - 1].into())]))],
        ),
        None => {}
    }
    let Some(DepthFromEntry { camera, x_m, across_m, uncertainty_m }) = known else { return };
    let label = format!("x = 0 here lies on camera {camera} at, m");
    let new_x_m = fields::number(ui, &label, Some(*x_m));
    let across_label = format!("The plane here lies across camera {camera} at, m");
    let new_across_m = fields::number(ui, &across_label, *across_m);
    let new_u_m = fields::number(ui, "Standard uncertainty of that, m", Some(*uncertainty_m));
    if new_x_m.is_some() || new_across_m.is_some() || new_u_m.is_some() {
        let mut entry = vec![
            ("camera", camera.as_str().into()),
            ("x_m", new_x_m.unwrap_or(*x_m).into()),
            ("uncertainty_m", new_u_m.unwrap_or(*uncertainty_m).into()),
        ];
        if let Some(across_m) = new_across_m.or(*across_m) {
            entry.push(("across_m", across_m.into()));
        }
        commands.edit(act, vec![set("camera", index, "depth_from", inline(entry))]);
    }
}
