//! Plans which cameras are joined: in space, and on both sides of a vehicle.

use super::cameras::CameraPlan;
use super::names;
use crate::error::DossierError;
use crate::lines::Step::{Item, Key};
use crate::load::Dossier;
use filmgauge_geometry::Reference;
use filmgauge_quantities::ViewPlane;

/// Cameras that together tell places in space.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpacePlan {
    /// Their places in the plan; the first gives the time.
    pub cameras: Vec<usize>,
    /// Ids of the targets that two or more of them show, in the order of the first that shows each.
    pub targets: Vec<String>,
}

/// Plans the `space` line; `None` where there is none.
pub(super) fn plan_space(
    dossier: &Dossier,
    cameras: &[CameraPlan],
) -> Result<Option<SpacePlan>, DossierError> {
    let Some(entry) = &dossier.document.space else { return Ok(None) };
    let at = |index| [Key("space"), Key("cameras"), Item(index)];
    let mut chosen = Vec::new();
    for (index, name) in entry.cameras.iter().enumerate() {
        let Some(place) = cameras.iter().position(|camera| camera.id.as_str() == name) else {
            let there = names(cameras.iter().map(|camera| camera.id.as_str()));
            let what = format!("space names camera \"{name}\", which does not exist");
            return Err(dossier.fault(&at(index), what, format!("Name a camera ({there})")));
        };
        if chosen.contains(&place) {
            return Err(dossier.fault(
                &at(index),
                format!("space names camera {name} twice"),
                "Keep one".into(),
            ));
        }
        if !matches!(cameras[place].scale.reference, Reference::Pose(_)) {
            let what = format!("camera {name} has no pose, so it tells no direction in space");
            let remedy = "Give it pose points in place of its board or plane points".into();
            return Err(dossier.fault(&at(index), what, remedy));
        }
        chosen.push(place);
    }
    if chosen.len() < 2 {
        let what = "space needs two cameras or more".into();
        return Err(dossier.fault(
            &[Key("space"), Key("cameras")],
            what,
            "Name them all, or take space out".into(),
        ));
    }
    let targets = shared(cameras, &chosen);
    if targets.is_empty() {
        let what = "no target is shown by two cameras of space".into();
        let remedy = "Give a target the same id in each camera that shows it".into();
        return Err(dossier.fault(&[Key("space"), Key("cameras")], what, remedy));
    }
    Ok(Some(SpacePlan { cameras: chosen, targets }))
}

/// Ids of the targets that two or more of these cameras show, in the order of the first that shows each.
fn shared(cameras: &[CameraPlan], chosen: &[usize]) -> Vec<String> {
    let mut ids: Vec<String> = Vec::new();
    for &place in chosen {
        for target in &cameras[place].targets {
            let shows = |&&place: &&usize| cameras[place].targets.iter().any(|other| other.id == target.id);
            if chosen.iter().filter(shows).count() >= 2 && !ids.iter().any(|id| id == target.id.as_str()) {
                ids.push(target.id.to_string());
            }
        }
    }
    ids
}

/// Side cameras on both sides of a vehicle.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CentrePlan {
    /// Id of the camera on the left of the path.
    pub left: String,
    /// Of the one on the right.
    pub right: String,
}

/// Plans the `centre` line; `None` where there is none.
pub(super) fn plan_centre(
    dossier: &Dossier,
    cameras: &[CameraPlan],
) -> Result<Option<CentrePlan>, DossierError> {
    let Some(entry) = &dossier.document.centre else { return Ok(None) };
    for (key, name) in [("left", &entry.left), ("right", &entry.right)] {
        let sides = || cameras.iter().filter(|camera| camera.view == ViewPlane::Side);
        if !sides().any(|camera| camera.id.as_str() == name) {
            let what = format!("centre names camera \"{name}\", which is no side camera");
            let remedy = format!("Name a side camera ({})", names(sides().map(|camera| camera.id.as_str())));
            return Err(dossier.fault(&[Key("centre"), Key(key)], what, remedy));
        }
    }
    if entry.left == entry.right {
        let what = format!("camera {} cannot stand on both sides", entry.left);
        return Err(dossier.fault(&[Key("centre"), Key("right")], what, "Name the other one".into()));
    }
    Ok(Some(CentrePlan { left: entry.left.clone(), right: entry.right.clone() }))
}
