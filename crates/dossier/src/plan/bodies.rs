//! Plans bodies and crush lines.

use super::{id, names, within};
use crate::document::Role;
use crate::error::DossierError;
use crate::lines::Step::{self, Item, Key};
use crate::load::Dossier;
use filmgauge_quantities::{BodyId, PlanePoint, TargetId};

/// One rigid body.
#[derive(Debug, Clone, PartialEq)]
pub struct BodyPlan {
    /// Body id.
    pub id: BodyId,
    /// Its part in the test, given or taken from the dossier's other lines.
    pub role: Role,
    /// Mass, kg.
    pub mass_kg: Option<f64>,
    /// Its standard uncertainty, kg.
    pub mass_u_kg: f64,
    /// C.g. as a step (forward, up) from a target, with the body level.
    pub cg_from: Option<(TargetId, PlanePoint)>,
    /// Middle seen from above as a step (forward, left) from a target, with the body straight.
    pub middle_from: Option<(TargetId, PlanePoint)>,
}

/// One crush line.
#[derive(Debug, Clone, PartialEq)]
pub struct CrushPlan {
    /// Name of the line.
    pub id: String,
    /// Target in the crush zone.
    pub target: TargetId,
    /// Body it is measured against.
    pub body: BodyId,
}

pub(super) fn plan_bodies(dossier: &Dossier) -> Result<Vec<BodyPlan>, DossierError> {
    let mut bodies: Vec<BodyPlan> = Vec::new();
    for (index, entry) in dossier.document.body.iter().enumerate() {
        let at = |key| [Key("body"), Item(index), Key(key)];
        let body_id = id(dossier, &at("id"), BodyId::new(&entry.id))?;
        if bodies.iter().any(|body| body.id == body_id) {
            let what = format!("body {body_id} is listed twice");
            return Err(dossier.fault(&at("id"), what, "Remove or rename one".into()));
        }
        if let Some(mass_kg) = entry.mass_kg {
            within(dossier, &at("mass_kg"), mass_kg, 1.0, 1e6)?;
        }
        within(dossier, &at("mass_uncertainty_kg"), entry.mass_uncertainty_kg, 0.0, 1e6)?;
        let step = |key, target: &str, m: [f64; 2]| -> Result<_, DossierError> {
            let target = id(dossier, &at(key), TargetId::new(target))?;
            for step_m in m {
                within(dossier, &at(key), step_m, -100.0, 100.0)?;
            }
            Ok((target, PlanePoint::new(m[0], m[1])))
        };
        let cg_from = entry.cg_from.as_ref().map(|cg| step("cg_from", &cg.target, cg.m)).transpose()?;
        let middle = entry.middle_from.as_ref();
        let middle_from = middle.map(|it| step("middle_from", &it.target, it.m)).transpose()?;
        let role = entry.role.unwrap_or_else(|| role_of(dossier, &entry.id, entry.mass_kg));
        bodies.push(BodyPlan {
            id: body_id,
            role,
            mass_kg: entry.mass_kg,
            mass_u_kg: entry.mass_uncertainty_kg,
            cg_from,
            middle_from,
        });
    }
    let striking = bodies.iter().filter(|body| body.role == Role::Striking).count();
    if striking > 1 {
        let what = format!("{striking} bodies are striking");
        return Err(dossier.fault(
            &[Key("body")],
            what,
            "Give role to each body; one may be striking".into(),
        ));
    }
    Ok(bodies)
}

fn role_of(dossier: &Dossier, body: &str, mass_kg: Option<f64>) -> Role {
    if dossier.document.crush.iter().any(|crush| crush.body == body) {
        Role::Striking
    } else if mass_kg.is_none() {
        Role::Ground
    } else {
        Role::Struck
    }
}

pub(super) fn plan_crush(dossier: &Dossier) -> Result<Vec<CrushPlan>, DossierError> {
    let mut lines: Vec<CrushPlan> = Vec::new();
    for (index, entry) in dossier.document.crush.iter().enumerate() {
        let at = |key| [Key("crush"), Item(index), Key(key)];
        if entry.id.trim().is_empty() || lines.iter().any(|line| line.id == entry.id) {
            let what = format!("crush line \"{}\" has no name of its own", entry.id);
            return Err(dossier.fault(&at("id"), what, "Give each crush line its own name".into()));
        }
        let target = id(dossier, &at("target"), TargetId::new(&entry.target))?;
        let body = known_body(dossier, &at("body"), &entry.body)?;
        let Some(found) = dossier.document.target.iter().find(|target| target.id == entry.target) else {
            let what = format!("crush line {} names target {}, which does not exist", entry.id, entry.target);
            let there = names(dossier.document.target.iter().map(|target| target.id.as_str()));
            return Err(dossier.fault(&at("target"), what, format!("Name a target ({there})")));
        };
        if found.body != entry.body {
            let what = format!(
                "crush line {} is measured against {}, but target {} rides on {}",
                entry.id, entry.body, entry.target, found.body
            );
            return Err(dossier.fault(&at("body"), what, "Name the body that carries the target".into()));
        }
        lines.push(CrushPlan { id: entry.id.clone(), target, body });
    }
    Ok(lines)
}

/// C.g. and middle must be told from a target that exists and rides on the same body.
pub(super) fn check_cg(dossier: &Dossier) -> Result<(), DossierError> {
    for (index, entry) in dossier.document.body.iter().enumerate() {
        let cg = entry.cg_from.as_ref().map(|cg| ("cg_from", "c.g.", &cg.target));
        let middle = entry.middle_from.as_ref().map(|middle| ("middle_from", "middle", &middle.target));
        for (key, point, from) in cg.into_iter().chain(middle) {
            let fits = |target: &crate::document::TargetEntry| target.id == *from && target.body == entry.id;
            if dossier.document.target.iter().any(fits) {
                continue;
            }
            let path = [Key("body"), Item(index), Key(key), Key("target")];
            let what = format!("the {point} of {} is told from target {from}, which is not on it", entry.id);
            let own = dossier.document.target.iter().filter(|target| target.body == entry.id);
            let there = names(own.map(|target| target.id.as_str()));
            return Err(dossier.fault(&path, what, format!("Name a target of the body ({there})")));
        }
    }
    Ok(())
}

/// The body of this name, or an error that lists those there are.
pub(super) fn known_body(dossier: &Dossier, path: &[Step<'_>], name: &str) -> Result<BodyId, DossierError> {
    if !dossier.document.body.iter().any(|body| body.id == name) {
        let there = names(dossier.document.body.iter().map(|body| body.id.as_str()));
        let remedy = format!("Add a [[body]] of that name or use one there is ({there})");
        return Err(dossier.fault(path, format!("body \"{name}\" does not exist"), remedy));
    }
    id(dossier, path, BodyId::new(name))
}
