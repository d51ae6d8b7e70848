//! Plans which camera tells how bodies move along another's line of sight.

use super::reference::ReferencePlan;
use super::{id, names, within};
use crate::error::DossierError;
use crate::lines::Step::{Item, Key};
use crate::load::Dossier;
use filmgauge_geometry::Reference;
use filmgauge_quantities::CameraId;

/// The camera that tells depth.
#[derive(Debug, Clone, PartialEq)]
pub struct DepthFromPlan {
    /// Its id.
    pub camera: CameraId,
    /// Where the told camera's x = 0 lies along its x, m.
    pub x_m: f64,
    /// Where the told camera's plane lies across the other's, m; `None` where that is not known.
    pub across_m: Option<f64>,
    /// Standard uncertainty of both, m.
    pub u_m: f64,
}

/// Plans `depth_from` of the camera at `index`.
pub(super) fn plan_depth_from(
    dossier: &Dossier,
    index: usize,
    scale: &ReferencePlan,
) -> Result<Option<DepthFromPlan>, DossierError> {
    let own = &dossier.document.camera[index];
    let Some(entry) = &own.depth_from else { return Ok(None) };
    let at = |key| [Key("camera"), Item(index), Key("depth_from"), Key(key)];
    let fault = |what: String, remedy: String| Err(dossier.fault(&at("camera"), what, remedy));
    let others: Vec<&_> = dossier.document.camera.iter().filter(|other| other.view != own.view).collect();
    if !others.iter().any(|other| other.id == entry.camera) {
        let what = format!("camera {} is no camera of the other view", entry.camera);
        let there = names(others.iter().map(|other| other.id.as_str()));
        return fault(what, format!("Name a camera that looks the other way ({there})"));
    }
    if let Some(inclined) = own.inclined.first() {
        let what = format!("the path of {} is told twice: by inclined and by depth_from", inclined.body);
        return fault(what, "Keep one of them".into());
    }
    let told = match &scale.reference {
        Reference::Board(board) => board.distance.is_some(),
        Reference::Points(points) => points.distance.is_some(),
        Reference::Pose(_) => true,
    };
    if !told && own.lens.is_none() {
        let what = format!("camera {} has no distance to its plane, so depth says nothing", own.id);
        return fault(what, "Give distance_m, or a lens file".into());
    }
    let camera = id(dossier, &at("camera"), CameraId::new(&entry.camera))?;
    let x_m = within(dossier, &at("x_m"), entry.x_m, -1e4, 1e4)?;
    let u_m = within(dossier, &at("uncertainty_m"), entry.uncertainty_m, 0.0, 100.0)?;
    let across = |across_m| within(dossier, &at("across_m"), across_m, -1e4, 1e4);
    let across_m = entry.across_m.map(across).transpose()?;
    Ok(Some(DepthFromPlan { camera, x_m, across_m, u_m }))
}
